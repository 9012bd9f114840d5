//! Pictures of four kinds, their scales and turns, and files that were made to do harm.
//!
//! Imports: base, read::picture.

use super::density::{Density, jpeg_quality};
use super::*;
use image::codecs::jpeg::{JpegEncoder, PixelDensity};
use image::{ExtendedColorType, ImageEncoder};

const WIDE: u32 = 96;
const HIGH: u32 = 80;

/// A picture that is told from itself turned: red to the right, green downward, a blue corner.
fn pixels() -> Vec<u8> {
    let one = |i: u32| {
        let (x, y) = (i % WIDE, i / WIDE);
        [(x * 255 / WIDE) as u8, (y * 255 / HIGH) as u8, if x < 20 && y < 20 { 255 } else { 0 }]
    };
    (0..WIDE * HIGH).flat_map(one).collect()
}

fn written(format: ImageFormat) -> Vec<u8> {
    let image = image::RgbImage::from_raw(WIDE, HIGH, pixels()).expect("as many bytes");
    let mut out = Cursor::new(Vec::new());
    DynamicImage::from(image).write_to(&mut out, format).expect("written");
    out.into_inner()
}

fn read(bytes: &[u8]) -> Result<Picture, &'static str> {
    let mut d = Diagnostics::new();
    read_picture("scan", bytes, &KeyPath::of("sheet"), &mut d)
        .map_err(|_| d.iter().next().expect("a fault").code.id)
}

#[test]
fn four_kinds_are_read() {
    for format in [ImageFormat::Png, ImageFormat::Tiff, ImageFormat::WebP, ImageFormat::Jpeg] {
        let got = read(&written(format)).unwrap_or_else(|e| panic!("{format:?}: {e}"));
        assert_eq!((got.width, got.height, got.alpha.is_some()), (WIDE as usize, HIGH as usize, false));
        let off = got.rgb.iter().zip(pixels()).map(|(a, b)| a.abs_diff(b)).max().unwrap_or(255);
        assert!(off <= if format == ImageFormat::Jpeg { 90 } else { 0 }, "{format:?}: {off}");
        assert_eq!(got.jpeg_quality.is_some(), format == ImageFormat::Jpeg);
    }
}

/// Truth: the tables of the Independent JPEG Group are K.1 scaled by 50 / q below 50 and 2 - q / 50 above.
#[test]
fn the_quality_of_a_jpeg_is_told_by_its_tables() {
    for quality in [20, 50, 60, 75, 85, 95] {
        let mut out = Vec::new();
        let mut e = JpegEncoder::new_with_quality(&mut out, quality);
        e.set_pixel_density(PixelDensity::dpi(300));
        e.write_image(&pixels(), WIDE, HIGH, ExtendedColorType::Rgb8).expect("written");
        let got = jpeg_quality(&out).expect("a table");
        assert!(got.abs_diff(quality) <= 1, "{quality}: {got}");
        assert_eq!(read(&out).expect("a picture").density, Some(Density::per_inch(300.0, 300.0)));
    }
}

/// CRC 32 as PNG has it (annex D of the specification).
fn crc(bytes: &[u8]) -> u32 {
    !bytes.iter().fold(!0u32, |c, b| {
        (0..8).fold(c ^ u32::from(*b), |c, _| if c & 1 == 1 { 0xedb8_8320 ^ (c >> 1) } else { c >> 1 })
    })
}
fn chunk(kind: &[u8; 4], data: &[u8]) -> Vec<u8> {
    let body = [&kind[..], data].concat();
    [&(data.len() as u32).to_be_bytes()[..], &body, &crc(&body).to_be_bytes()].concat()
}
fn png_of(width: u32, height: u32) -> Vec<u8> {
    let head = [&width.to_be_bytes()[..], &height.to_be_bytes(), &[8, 2, 0, 0, 0]].concat();
    let start = b"\x89PNG\r\n\x1a\n".to_vec();
    [start, chunk(b"IHDR", &head), chunk(b"IDAT", &[0x78, 1, 3, 0, 0, 0, 0, 1]), chunk(b"IEND", &[])].concat()
}

/// PNG 11.3.4.3, TIFF 6.0 and EXIF: 11,811 dots a metre are 300 dpi; 72 and 96 dpi are what programs write that do
/// not know.
#[test]
fn scales_are_read_by_hand() {
    let with = |dots: u32, unit: u8| {
        let mut png = written(ImageFormat::Png);
        let data = [&dots.to_be_bytes()[..], &dots.to_be_bytes(), &[unit]].concat();
        png.splice(33..33, chunk(b"pHYs", &data));
        read(&png).expect("a picture").density
    };
    let dpi = with(11_811, 1).expect("a scale").dpi();
    assert!((dpi - 300.0).abs() < 0.01, "{dpi}");
    assert_eq!((with(2835, 1), with(3780, 1), with(11_811, 0)), (None, None, None));
    for little in [true, false] {
        let two = |v: u16| if little { v.to_le_bytes() } else { v.to_be_bytes() };
        let four = |v: u32| if little { v.to_le_bytes() } else { v.to_be_bytes() };
        let mut tiff = if little { b"II".to_vec() } else { b"MM".to_vec() };
        tiff.extend([&two(42)[..], &four(8), &two(3)].concat());
        for (tag, kind, value) in [(282u16, 5u16, 50u32), (283, 5, 58)] {
            tiff.extend([&two(tag)[..], &two(kind), &four(1), &four(value)].concat());
        }
        tiff.extend([&two(296)[..], &two(3), &four(1), &two(3), &two(0), &four(0)].concat());
        for n in [1181u32, 10, 600, 10] {
            tiff.extend(four(n));
        }
        let got = density::of(&tiff, true, None).expect("a scale");
        assert!((got.across - 11.81).abs() < 1e-9 && (got.down - 6.0).abs() < 1e-9, "{got:?}");
    }
}

/// The turn that a camera writes is taken: tag 274 is 6, the picture is to be turned by a quarter.
#[test]
fn the_cameras_turn_is_taken() {
    let exif =
        [&b"II*\0\x08\0\0\0\x01\0"[..], &[0x12, 1, 3, 0, 1, 0, 0, 0, 6, 0, 0, 0], &[0, 0, 0, 0]].concat();
    let mut out = Vec::new();
    let mut e = JpegEncoder::new_with_quality(&mut out, 95);
    e.set_exif_metadata(exif).expect("taken");
    e.write_image(&pixels(), WIDE, HIGH, ExtendedColorType::Rgb8).expect("written");
    let got = read(&out).expect("a picture");
    assert_eq!((got.width, got.height), (HIGH as usize, WIDE as usize));
    // The blue corner was on the upper left and is on the upper right.
    let at = |x: usize, y: usize| got.rgb[3 * (y * got.width + x) + 2];
    assert!(at(75, 5) > 200 && at(5, 5) < 60, "{} {}", at(75, 5), at(5, 5));
}

#[test]
fn what_is_transparent_lies_on_white() {
    let rgba: Vec<u8> = (0..96 * 80).flat_map(|i| [200, 0, 0, if i % 96 < 48 { 255 } else { 0 }]).collect();
    let image = image::RgbaImage::from_raw(96, 80, rgba).expect("as many bytes");
    let mut out = Cursor::new(Vec::new());
    DynamicImage::from(image).write_to(&mut out, ImageFormat::Png).expect("written");
    let got = read(&out.into_inner()).expect("a picture");
    assert!(got.alpha.is_some() && got.rgb[..3] == [200, 0, 0] && got.rgb[3 * 95..3 * 96] == [255; 3]);
}

/// Headers that promise more than there is are refused before anything is made room for; what is cut short or
/// damaged is refused; nothing panics.
#[test]
fn harmful_files_are_refused() {
    assert_eq!(read(&png_of(60_000, 60_000)), Err("picture/size"));
    assert_eq!(read(&png_of(29_999, 29_999)), Err("picture/size"));
    assert_eq!(read(&png_of(20, 20_000)), Err("picture/size"));
    assert_eq!(read(b"GIF89a........................"), Err("picture/unreadable"));
    assert_eq!(read(b"\0\0\0\x18ftypheic\0\0\0\0mif1heic"), Err("picture/unreadable"));
    assert_eq!(read(b""), Err("picture/unreadable"));
    // Frame header of 65,535 x 65,535 (ITU T.81 B.2.2).
    let sof = [0xff, 0xc0, 0, 17, 8, 0xff, 0xff, 0xff, 0xff, 3, 1, 0x11, 0, 2, 0x11, 0, 3, 0x11, 0];
    let mut jpeg = written(ImageFormat::Jpeg);
    let at = jpeg.windows(2).position(|w| w == [0xff, 0xc0]).expect("a frame");
    jpeg[at + 5..at + 9].copy_from_slice(&sof[5..9]);
    assert!(matches!(read(&jpeg), Err("picture/size" | "picture/unreadable")));
    // A directory that points to itself.
    let mut tiff = b"II*\0\x08\0\0\0\x01\0".to_vec();
    tiff.extend([0, 1, 3, 0, 1, 0, 0, 0, 96, 0, 0, 0, 8, 0, 0, 0]);
    assert_eq!(read(&tiff), Err("picture/unreadable"));
    for format in [ImageFormat::Png, ImageFormat::Tiff, ImageFormat::WebP, ImageFormat::Jpeg] {
        let whole = written(format);
        for n in (0..whole.len()).step_by(whole.len() / 40 + 1) {
            let _ = read(&whole[..n]);
            let mut broken = whole.clone();
            broken[n] ^= 0x5a;
            let _ = read(&broken);
        }
    }
}
