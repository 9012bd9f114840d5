//! PNG files, packed quickly: a kit has many pictures and flat colours pack well anyhow.
//!
//! Imports: none.

use ::png::{BitDepth, ColorType, Compression, Encoder, EncodingError, Filter};

/// What the encoder says.
pub type Trouble = EncodingError;

/// An encoder as all pictures take it.
fn encoder(out: &mut Vec<u8>, width: usize, height: usize, colour: ColorType) -> Encoder<'_, &mut Vec<u8>> {
    let mut e = Encoder::new(out, width as u32, height as u32);
    e.set_color(colour);
    e.set_depth(BitDepth::Eight);
    e.set_compression(Compression::Fast);
    e.set_filter(Filter::Up);
    e
}

fn single(e: Encoder<'_, &mut Vec<u8>>, pixels: &[u8]) -> Result<(), Trouble> {
    let mut writer = e.write_header()?;
    writer.write_image_data(pixels)?;
    writer.finish()
}

/// Red, green, blue, alpha.
pub fn rgba(width: usize, height: usize, pixels: &[u8]) -> Result<Vec<u8>, Trouble> {
    let mut out = Vec::new();
    single(encoder(&mut out, width, height, ColorType::Rgba), pixels)?;
    Ok(out)
}

/// One byte a pixel, a place in a palette of three bytes each; the file has as few bits a pixel as the palette asks for.
pub fn indexed(width: usize, height: usize, pixels: &[u8], palette: &[u8]) -> Result<Vec<u8>, Trouble> {
    let mut out = Vec::new();
    let mut e = encoder(&mut out, width, height, ColorType::Indexed);
    e.set_palette(palette.to_vec());
    let (depth, bits) = match palette.len() / 3 {
        0..=2 => (BitDepth::One, 1),
        3..=4 => (BitDepth::Two, 2),
        5..=16 => (BitDepth::Four, 4),
        _ => (BitDepth::Eight, 8),
    };
    e.set_depth(depth);
    if bits == 8 {
        single(e, pixels)?;
    } else {
        single(e, &narrowed(pixels, width, bits))?;
    }
    Ok(out)
}

/// Pixels of so many bits each, the first of a byte in its highest bits; every row begins a byte.
fn narrowed(pixels: &[u8], width: usize, bits: usize) -> Vec<u8> {
    let (each, full) = (8 / bits, 255 / ((1u16 << bits) - 1) as u8);
    let mut out = Vec::with_capacity(pixels.len().div_ceil(each));
    let one = |group: &[u8]| {
        // Most lie all in one film, or in none.
        if group.len() == each && group.iter().all(|v| *v == group[0]) {
            return group[0].wrapping_mul(full);
        }
        group.iter().enumerate().fold(0, |byte, (i, v)| byte | v << (8 - bits * (i + 1)))
    };
    for row in pixels.chunks(width.max(1)) {
        let whole = row.chunks_exact(8);
        let rest = whole.remainder();
        for eight in whole {
            if *eight == [0; 8] {
                out.resize(out.len() + bits, 0)
            } else {
                out.extend(eight.chunks(each).map(one))
            }
        }
        out.extend(rest.chunks(each).map(one));
    }
    out
}

/// Red, green, blue from four bytes a pixel that are all opaque.
pub fn flat(width: usize, height: usize, rgba: &[u8]) -> Result<Vec<u8>, Trouble> {
    let mut rgb = vec![0; width * height * 3];
    for (to, from) in rgb.chunks_exact_mut(3).zip(rgba.chunks_exact(4)) {
        to.copy_from_slice(&from[..3]);
    }
    let mut out = Vec::new();
    single(encoder(&mut out, width, height, ColorType::Rgb), &rgb)?;
    Ok(out)
}

/// A part of a picture: left, top, width and height, pixels.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Part {
    /// From the left edge.
    pub x: usize,
    /// From the top edge.
    pub y: usize,
    /// Width.
    pub width: usize,
    /// Height.
    pub height: usize,
}

impl Part {
    /// Cut out of a picture so many pixels wide, four bytes each.
    pub fn of(&self, rgba: &[u8], wide: usize) -> Vec<u8> {
        let mut out = Vec::with_capacity(4 * self.width * self.height);
        for y in self.y..self.y + self.height {
            out.extend_from_slice(&rgba[4 * (y * wide + self.x)..][..4 * self.width]);
        }
        out
    }
}

/// An animation (APNG) that goes on for ever, each picture shown for so many thousandths of a second: a whole picture,
/// then what becomes of one part of it.
pub fn animated(
    (width, height): (usize, usize),
    first: &[u8],
    part: Part,
    later: &[Vec<u8>],
    thousandths: u16,
) -> Result<Vec<u8>, Trouble> {
    let mut out = Vec::new();
    let mut e = encoder(&mut out, width, height, ColorType::Rgba);
    e.set_animated(later.len() as u32 + 1, 0)?;
    e.set_frame_delay(thousandths, 1000)?;
    let mut writer = e.write_header()?;
    writer.write_image_data(first)?;
    for frame in later {
        writer.set_frame_dimension(part.width as u32, part.height as u32)?;
        writer.set_frame_position(part.x as u32, part.y as u32)?;
        writer.write_image_data(frame)?;
    }
    writer.finish()?;
    Ok(out)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Truth: the decoder of the crate gives back every pixel, whatever the width and the number of colours.
    #[test]
    fn places_in_a_palette_come_back_whatever_their_bits() {
        for colours in [1, 2, 3, 4, 5, 16, 17, 200] {
            for width in [1, 7, 8, 9, 31, 64] {
                let pixels: Vec<u8> = (0..width * 5)
                    .map(|i| if i % 29 < 17 { 0 } else { (i * 7 / 3 % colours) as u8 })
                    .collect();
                let palette: Vec<u8> = (0..colours).flat_map(|i| [i as u8, 0, 0]).collect();
                let file = indexed(width, 5, &pixels, &palette).expect("a PNG");
                let mut decoder = ::png::Decoder::new(std::io::Cursor::new(file));
                decoder.set_transformations(::png::Transformations::EXPAND);
                let mut reader = decoder.read_info().expect("its head");
                let mut seen = vec![0; reader.output_buffer_size().expect("a size")];
                let info = reader.next_frame(&mut seen).expect("its pixels");
                let red: Vec<u8> = seen[..info.buffer_size()].chunks(3).map(|c| c[0]).collect();
                assert_eq!(red, pixels, "{colours} colours, {width} wide");
            }
        }
    }
}
