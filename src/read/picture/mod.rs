//! [`Picture`]: a scan or an export of a printed sheet, from the bytes of a PNG, JPEG, TIFF or WebP file.
//!
//! Sides and pixels are held to limits before anything is decoded; the turn that a camera writes is taken;
//! what is transparent is laid on white in linear light. This is the home of the image crate.
//!
//! Imports: base.

pub mod density;
#[cfg(test)]
mod tests;

use crate::base::colour::{encoded, linear};
use crate::base::diag::{Code, Diagnostic, Diagnostics, ErrorGuaranteed, KeyPath};
use density::{Density, jpeg_quality};
use image::metadata::Orientation;
use image::{DynamicImage, ImageDecoder, ImageFormat, ImageReader, Limits};
use std::io::Cursor;

/// Bytes that the file of a picture may have.
pub const LARGEST_FILE: u64 = 256 << 20;
/// Pixels that a side may have: 64 tell nothing, 30,000 are A3 at 1,800 dpi.
pub const SIDE: [u32; 2] = [64, 30_000];
/// Pixels that a picture may have: A3 at 600 dpi has 70 million.
pub const MOST_PIXELS: u64 = 150_000_000;
/// Bytes a pixel that a decoder may fill: four channels of 16 bits.
const PIXEL_BYTES: u64 = 8;

/// A picture cannot be read.
pub const UNREADABLE: Code = Code {
    id: "picture/unreadable",
    title: "a picture cannot be read",
    explain: "Pictures of printed sheets are PNG, JPEG, TIFF or WebP files. This one is of another kind, is \
        damaged, or ends too early. Scan to PNG if you can; send HEIC photos of a phone as JPEG.",
};
/// A picture is larger, or smaller, than the program takes.
pub const SIZE: Code = Code {
    id: "picture/size",
    title: "a picture has too many pixels, or too few",
    explain: "A picture of a sheet may have sides of 64 to 30,000 pixels and 150 million pixels in all: A3 \
        at 600 dpi has 70 million. More says nothing more about the outlines: scan at 300 to 600 dpi.",
};
/// A picture was packed too hard.
pub const PACKED: Code = Code {
    id: "picture/coarse-colour",
    title: "the picture was packed so hard that colours run over the rims",
    explain: "JPEG keeps colour at half the resolution and rounds it the more, the lower its quality is. Below \
        about 75 pale fringes of a print may be lost, and at less than 250 dpi outlines grow tongues. Scan \
        to PNG or TIFF, or at a higher quality.",
};

/// All codes of this module.
pub const CODES: &[&Code] = &[&UNREADABLE, &SIZE, &PACKED];

/// A picture as it was read.
#[derive(Clone, PartialEq, Eq)]
pub struct Picture {
    /// Pixels from left to right.
    pub width: usize,
    /// Pixels from top to bottom.
    pub height: usize,
    /// Red, green and blue, encoded as sRGB; rows from the top.
    pub rgb: Vec<u8>,
    /// Pixels a millimetre that the file claims, across and down; none where it says nothing, or only what
    /// programs write that do not know (72 and 96 dpi).
    pub density: Option<Density>,
    /// Quality that the file was packed at, 1 to 100, if it is a JPEG.
    pub jpeg_quality: Option<u8>,
    /// How opaque each pixel is, if some of it is transparent.
    pub alpha: Option<Vec<u8>>,
}

impl Picture {
    /// An opaque picture of no known density, that no file held.
    pub fn opaque(width: usize, height: usize, rgb: Vec<u8>) -> Picture {
        Picture { width, height, rgb, density: None, jpeg_quality: None, alpha: None }
    }
}

impl std::fmt::Debug for Picture {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "Picture({} x {}, {:?})", self.width, self.height, self.density)
    }
}

/// Reads a picture; `name` and `at` say in messages which it is.
///
/// # Errors
/// [`UNREADABLE`] or [`SIZE`].
pub fn read_picture(
    name: &str,
    bytes: &[u8],
    at: &KeyPath,
    diagnostics: &mut Diagnostics,
) -> Result<Picture, ErrorGuaranteed> {
    let mut fail = |code, message: String, help: &str| {
        Err(diagnostics.push(Diagnostic::fault(code, at.clone(), message).file(name).help(help)))
    };
    match decoded(bytes) {
        Ok(picture) => Ok(picture),
        Err(Trouble::Kind(what)) => fail(
            &UNREADABLE,
            format!("\"{name}\" is no picture that can be read: {what}"),
            "save it as PNG, JPEG, TIFF or WebP",
        ),
        Err(Trouble::Broken(why)) => fail(
            &UNREADABLE,
            format!("\"{name}\" is damaged, or of a kind that is not read: {why}"),
            "open it in another program and save it as PNG, or scan it again",
        ),
        Err(Trouble::Size(w, h)) => {
            let message = format!("\"{name}\" has {w} x {h} pixels");
            let d = Diagnostic::fault(&SIZE, at.clone(), message).file(name);
            let d = d.measured(format!("{:.1} million pixels", f64::from(w) * f64::from(h) / 1_000_000.0));
            let d = d.allowed(format!(
                "sides of {} to {}, {} million pixels in all",
                SIDE[0],
                SIDE[1],
                MOST_PIXELS / 1_000_000
            ));
            Err(diagnostics.push(d.help("scan at 300 to 600 dpi, the sheet alone")))
        }
    }
}

enum Trouble {
    Kind(String),
    Broken(String),
    Size(u32, u32),
}

impl From<image::ImageError> for Trouble {
    fn from(e: image::ImageError) -> Trouble {
        Trouble::Broken(e.to_string())
    }
}

/// The kind of a file by its first bytes, if it is one that is read.
fn format(bytes: &[u8]) -> Result<ImageFormat, Trouble> {
    // ISO 14496-12: a box of type `ftyp`, and in it the brand.
    let brand = bytes.get(4..8).filter(|b| *b == b"ftyp").and(bytes.get(8..12));
    if brand.is_some_and(|b| [b"heic", b"heix", b"mif1", b"msf1"].iter().any(|k| b == *k)) {
        return Err(Trouble::Kind("it is HEIC, as phones write it".into()));
    }
    match image::guess_format(bytes) {
        Ok(f @ (ImageFormat::Png | ImageFormat::Jpeg | ImageFormat::Tiff | ImageFormat::WebP)) => Ok(f),
        Ok(f) => Err(Trouble::Kind(format!("it is {f:?}"))),
        Err(_) => Err(Trouble::Kind("its first bytes are those of no kind known here".into())),
    }
}

fn decoded(bytes: &[u8]) -> Result<Picture, Trouble> {
    let format = format(bytes)?;
    let mut limits = Limits::default();
    (limits.max_image_width, limits.max_image_height) = (Some(SIDE[1]), Some(SIDE[1]));
    limits.max_alloc = Some(MOST_PIXELS * PIXEL_BYTES);
    let mut reader = ImageReader::with_format(Cursor::new(bytes), format);
    // The sides are held to their range below, with words of our own; the decoder must not allocate before.
    let mut generous = Limits::no_limits();
    generous.max_alloc = limits.max_alloc;
    reader.limits(generous);
    let mut decoder = reader.into_decoder()?;
    let (w, h) = decoder.dimensions();
    let fits = |s: u32| (SIDE[0]..=SIDE[1]).contains(&s);
    if !fits(w) || !fits(h) || u64::from(w) * u64::from(h) > MOST_PIXELS {
        return Err(Trouble::Size(w, h));
    }
    // Readers other than that of PNG forget the limits that they were made with.
    decoder.set_limits(limits)?;
    if decoder.total_bytes() > MOST_PIXELS * PIXEL_BYTES {
        return Err(Trouble::Size(w, h));
    }
    let turn = decoder.orientation().unwrap_or(Orientation::NoTransforms);
    let exif = decoder.exif_metadata().ok().flatten();
    let mut image = DynamicImage::from_decoder(decoder)?;
    image.apply_orientation(turn);
    let density = density::of(bytes, format == ImageFormat::Tiff, exif.as_deref());
    let turned = matches!(
        turn,
        Orientation::Rotate90
            | Orientation::Rotate270
            | Orientation::Rotate90FlipH
            | Orientation::Rotate270FlipH
    );
    let density = density.map(|d| if turned { Density { across: d.down, down: d.across } } else { d });
    let (width, height) = (image.width() as usize, image.height() as usize);
    let (rgb, alpha) = opaque(image);
    let jpeg_quality = if format == ImageFormat::Jpeg { jpeg_quality(bytes) } else { None };
    Ok(Picture { width, height, rgb, density, jpeg_quality, alpha })
}

/// Three channels of 8 bits; what is transparent laid on white, mixed in linear light.
fn opaque(image: DynamicImage) -> (Vec<u8>, Option<Vec<u8>>) {
    if !image.color().has_alpha() {
        return (image.into_rgb8().into_raw(), None);
    }
    let rgba = image.into_rgba8().into_raw();
    let mut transparent = false;
    let mut rgb = Vec::with_capacity(rgba.len() / 4 * 3);
    for p in rgba.chunks_exact(4) {
        if p[3] == 255 {
            rgb.extend_from_slice(&p[..3]);
            continue;
        }
        transparent = true;
        let a = f32::from(p[3]) / 255.0;
        rgb.extend(p[..3].iter().map(|&c| encoded(linear(c) * a + 1.0 - a)));
    }
    let alpha = || rgba.iter().skip(3).step_by(4).copied().collect();
    let alpha = transparent.then(alpha);
    (rgb, alpha)
}
