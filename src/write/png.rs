//! PNG files, packed quickly: a kit has many pictures and flat colours pack well anyhow.
//!
//! Imports: png.

use ::png::{BitDepth, ColorType, Compression, Encoder, EncodingError, Filter};

/// What the encoder says.
pub type Trouble = EncodingError;

/// Red, green, blue, alpha.
pub fn rgba(width: usize, height: usize, pixels: &[u8]) -> Result<Vec<u8>, Trouble> {
    let mut out = Vec::new();
    let mut e = Encoder::new(&mut out, width as u32, height as u32);
    e.set_color(ColorType::Rgba);
    e.set_depth(BitDepth::Eight);
    e.set_compression(Compression::Fast);
    e.set_filter(Filter::Up);
    let mut writer = e.write_header()?;
    writer.write_image_data(pixels)?;
    writer.finish()?;
    Ok(out)
}

/// One byte a pixel, a place in a palette of three bytes each.
pub fn indexed(width: usize, height: usize, pixels: &[u8], palette: &[u8]) -> Result<Vec<u8>, Trouble> {
    let mut out = Vec::new();
    let mut e = Encoder::new(&mut out, width as u32, height as u32);
    e.set_color(ColorType::Indexed);
    e.set_depth(BitDepth::Eight);
    e.set_palette(palette.to_vec());
    e.set_compression(Compression::Fast);
    e.set_filter(Filter::Up);
    let mut writer = e.write_header()?;
    writer.write_image_data(pixels)?;
    writer.finish()?;
    Ok(out)
}

/// An animation (APNG) that goes on for ever, each picture shown for so many thousandths of a second.
pub fn animated(
    width: usize,
    height: usize,
    frames: &[Vec<u8>],
    thousandths: u16,
) -> Result<Vec<u8>, Trouble> {
    let mut out = Vec::new();
    let mut e = Encoder::new(&mut out, width as u32, height as u32);
    e.set_color(ColorType::Rgba);
    e.set_depth(BitDepth::Eight);
    e.set_compression(Compression::Fast);
    e.set_filter(Filter::Up);
    e.set_animated(frames.len() as u32, 0)?;
    e.set_frame_delay(thousandths, 1000)?;
    let mut writer = e.write_header()?;
    for frame in frames {
        writer.write_image_data(frame)?;
    }
    writer.finish()?;
    Ok(out)
}

/// Red, green, blue from four bytes a pixel that are all opaque.
pub fn flat(width: usize, height: usize, rgba: &[u8]) -> Result<Vec<u8>, Trouble> {
    let rgb: Vec<u8> = rgba.chunks_exact(4).flat_map(|p| [p[0], p[1], p[2]]).collect();
    let mut out = Vec::new();
    let mut e = Encoder::new(&mut out, width as u32, height as u32);
    e.set_color(ColorType::Rgb);
    e.set_depth(BitDepth::Eight);
    e.set_compression(Compression::Fast);
    e.set_filter(Filter::Up);
    let mut writer = e.write_header()?;
    writer.write_image_data(&rgb)?;
    writer.finish()?;
    Ok(out)
}
