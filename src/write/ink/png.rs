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

/// Red, green, blue.
pub fn rgb(width: usize, height: usize, pixels: &[u8]) -> Result<Vec<u8>, Trouble> {
    let mut out = Vec::new();
    single(encoder(&mut out, width, height, ColorType::Rgb), pixels)?;
    Ok(out)
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

/// An animation (APNG) that goes on for ever, each picture shown for so many thousandths of a second: a whole
/// picture, then what becomes of one part of it.
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
