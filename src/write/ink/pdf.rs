//! PDF documents: pages of marks and words, with the program's own two faces inside, so that text can be
//! searched and copied and no viewer sets it in another face.
//!
//! No scale but the page's own: no UserUnit, and viewers are told not to fit pages to paper. Bytes are the
//! same for the same pages.
//!
//! Imports: base, outline, read::job, write::ink::{decimal, letters, drawing}.

use super::drawing::{Group, Image, Mark, Words};
use super::letters::{self, Face};
use crate::outline::{BezPath, Bounds, PathEl};
use crate::read::job::Rgb;
use pdf_writer::types::{CidFontType, FontFlags, LineCapStyle, LineJoinStyle, SystemInfo, UnicodeCmap};
use pdf_writer::{Content, Filter, Finish, Name, Pdf, Rect, Ref, Str, TextStr};
use std::sync::OnceLock;

/// PDF points in a millimetre.
pub const POINTS: f64 = 72.0 / 25.4;

const SYSTEM: SystemInfo<'static> =
    SystemInfo { registry: Str(b"Adobe"), ordering: Str(b"Identity"), supplement: 0 };
const FACES: [(Face, &[u8], &[u8]); 2] =
    [(Face::Regular, b"F0", b"FRUSTA+Regular"), (Face::Bold, b"F1", b"FRUSTA+Bold")];

/// Something drawn once and shown on several pages.
#[derive(Clone, Copy, Debug)]
pub struct Shared(Ref);

/// A picture made ready for a document.
#[derive(Clone, Debug)]
pub struct Picture {
    /// Name by which content shows it.
    pub name: String,
    /// Width and height.
    pub pixels: (usize, usize),
    /// Three bytes a pixel, [`packed`].
    pub rgb: Vec<u8>,
}

impl Picture {
    /// The pictures of groups.
    pub fn all(groups: &[Group]) -> Vec<Picture> {
        let one = |i: &Image| Picture { name: i.id.clone(), pixels: i.pixels, rgb: packed(&i.rgb) };
        groups.iter().flat_map(|g| &g.images).map(one).collect()
    }
}

/// A document being written.
pub struct Book {
    pdf: Pdf,
    next: i32,
    title: String,
    pages: Vec<Ref>,
}

const CATALOG: i32 = 1;
const TREE: i32 = 2;
const INFO: i32 = 3;
/// Five objects a face: font, descendant, descriptor, program, to-Unicode map.
const FONTS: i32 = 4;

impl Book {
    /// An empty document.
    pub fn new(title: &str) -> Book {
        let mut book = Book { pdf: Pdf::new(), next: FONTS, title: title.to_owned(), pages: Vec::new() };
        for (face, _, name) in FACES {
            book.font(face, name);
        }
        book
    }
    fn fresh(&mut self) -> Ref {
        self.next += 1;
        Ref::new(self.next - 1)
    }
    fn font(&mut self, face: Face, name: &[u8]) {
        let [font, descendant, descriptor, program, map] = std::array::from_fn(|_| self.fresh());
        let of = FontParts::of(face);
        self.pdf
            .type0_font(font)
            .base_font(Name(name))
            .encoding_predefined(Name(b"Identity-H"))
            .descendant_font(descendant)
            .to_unicode(map);
        let mut cid = self.pdf.cid_font(descendant);
        cid.subtype(CidFontType::Type2).base_font(Name(name)).system_info(SYSTEM).font_descriptor(descriptor);
        cid.cid_to_gid_map_predefined(Name(b"Identity"));
        cid.widths().consecutive(0, of.widths.iter().copied());
        cid.finish();
        // Source: the head, hhea and OS/2 tables of the faces, thousandths of the em.
        self.pdf
            .font_descriptor(descriptor)
            .name(Name(name))
            .flags(FontFlags::NON_SYMBOLIC)
            .bbox(Rect::new(-188.0, -240.0, 962.0, 1003.0))
            .italic_angle(0.0)
            .ascent(1069.0)
            .descent(-293.0)
            .cap_height(714.0)
            .stem_v(if face == Face::Bold { 140.0 } else { 90.0 })
            .font_file2(program);
        let mut stream = self.pdf.stream(program, &of.program);
        stream.pair(Name(b"Length1"), of.length);
        stream.filter(Filter::FlateDecode);
        stream.finish();
        self.pdf.cmap(map, &of.unicode).filter(Filter::FlateDecode);
    }
    /// A drawing for several pages: [`packed`] content and its box.
    pub fn shared(&mut self, content: &[u8], bounds: Bounds<crate::base::frame::Page>) -> Shared {
        self.shared_with(content, bounds, &[])
    }
    /// The same, with pictures that it shows by their names.
    pub fn shared_with(
        &mut self,
        content: &[u8],
        bounds: Bounds<crate::base::frame::Page>,
        images: &[Picture],
    ) -> Shared {
        let images: Vec<(&str, Shared)> =
            images.iter().map(|i| (i.name.as_str(), self.picture(i.pixels.0, i.pixels.1, &i.rgb))).collect();
        let id = self.fresh();
        let mut x = self.pdf.form_xobject(id, content);
        x.bbox(Rect::new(bounds.min.x as f32, bounds.min.y as f32, bounds.max.x as f32, bounds.max.y as f32));
        let mut resources = x.resources();
        fonts(&mut resources.fonts());
        if !images.is_empty() {
            let mut all = resources.x_objects();
            for (name, what) in images {
                all.pair(Name(name.as_bytes()), what.0);
            }
        }
        resources.finish();
        x.filter(Filter::FlateDecode);
        x.finish();
        Shared(id)
    }
    /// A picture: width, height and three bytes a pixel, [`packed`].
    pub fn picture(&mut self, width: usize, height: usize, rgb: &[u8]) -> Shared {
        let id = self.fresh();
        let mut x = self.pdf.image_xobject(id, rgb);
        x.filter(Filter::FlateDecode);
        x.width(width as i32).height(height as i32).bits_per_component(8);
        x.color_space().device_rgb();
        x.finish();
        Shared(id)
    }
    /// A page of a size in millimetres as printed. One unit of its content is `scale` points: a millimetre of
    /// a true printer, or what makes one of the maker's.
    pub fn page(&mut self, size: (f64, f64), content: Content, shown: &[(&str, Shared)]) {
        let (id, stream) = (self.fresh(), self.fresh());
        self.pages.push(id);
        let mut page = self.pdf.page(id);
        page.parent(Ref::new(TREE)).contents(stream);
        page.media_box(Rect::new(0.0, 0.0, (size.0 * POINTS) as f32, (size.1 * POINTS) as f32));
        let mut resources = page.resources();
        fonts(&mut resources.fonts());
        if !shown.is_empty() {
            let mut all = resources.x_objects();
            for (name, what) in shown {
                all.pair(Name(name.as_bytes()), what.0);
            }
        }
        resources.finish();
        page.finish();
        self.pdf.stream(stream, &packed(&content.finish())).filter(Filter::FlateDecode);
    }
    /// The bytes.
    pub fn finish(mut self) -> Vec<u8> {
        let mut catalog = self.pdf.catalog(Ref::new(CATALOG));
        catalog.pages(Ref::new(TREE)).lang(TextStr("en"));
        let mut viewer = catalog.viewer_preferences();
        viewer.display_doc_title(true).pair(Name(b"PrintScaling"), Name(b"None"));
        viewer.finish();
        catalog.finish();
        self.pdf.pages(Ref::new(TREE)).count(self.pages.len() as i32).kids(self.pages.iter().copied());
        self.pdf.document_info(Ref::new(INFO)).title(TextStr(&self.title)).producer(TextStr("frusta"));
        self.pdf.finish()
    }
}

/// Makes ready what every document holds of the faces: once for all, by whoever asks first.
pub fn ready() {
    for (face, _, _) in FACES {
        FontParts::of(face);
    }
}

fn fonts(dict: &mut pdf_writer::Dict<'_>) {
    for (i, (_, name, _)) in FACES.iter().enumerate() {
        dict.pair(Name(name), Ref::new(FONTS + 5 * i as i32));
    }
}

/// What every document holds of a face.
struct FontParts {
    program: Vec<u8>,
    length: i32,
    widths: Vec<f32>,
    unicode: Vec<u8>,
}

impl FontParts {
    fn of(face: Face) -> &'static FontParts {
        static PARTS: [OnceLock<FontParts>; 2] = [OnceLock::new(), OnceLock::new()];
        PARTS[usize::from(face == Face::Bold)].get_or_init(|| {
            let program = letters::program(face);
            let mut map = UnicodeCmap::new(Name(b"Frusta-Unicode"), SYSTEM);
            let mut widths = Vec::new();
            for (letter, id, advance) in letters::all(face) {
                map.pair(id, letter);
                let at = usize::from(id);
                if widths.len() <= at {
                    widths.resize(at + 1, 0.0);
                }
                widths[at] = (advance * 1000.0) as f32;
            }
            FontParts {
                program: packed(program),
                length: program.len() as i32,
                widths,
                unicode: packed(&map.finish()),
            }
        })
    }
}

/// Packed as PDF streams are.
pub fn packed(bytes: &[u8]) -> Vec<u8> {
    use std::io::Write;
    // Of zlib-rs, level 2: a tenth smaller than level 1 of miniz_oxide on our content, in less than half the
    // time. Level 1 takes half of that again and leaves a third more.
    let mut z =
        flate2::write::ZlibEncoder::new(Vec::with_capacity(bytes.len() / 2), flate2::Compression::new(2));
    // Writing to memory cannot fail.
    let done = z.write_all(bytes).and_then(|()| z.finish());
    done.unwrap_or_default()
}

/// Adds a group's marks and words.
pub fn push_group(c: &mut Content, g: &Group) {
    for i in &g.images {
        let (low, size) = (i.at.min, (i.at.width().0, i.at.height().0));
        c.save_state();
        c.transform([size.0 as f32, 0.0, 0.0, size.1 as f32, rounded(low.x), rounded(low.y)]);
        c.x_object(Name(i.id.as_bytes()));
        c.restore_state();
    }
    for m in &g.marks {
        push_mark(c, m);
    }
    for w in &g.words {
        push_words(c, w);
    }
}

fn colour(Rgb(c): Rgb) -> [f32; 3] {
    c.map(|v| f32::from(v) / 255.0)
}

fn push_words(c: &mut Content, w: &Words) {
    let mut ids = Vec::new();
    for letter in w.message.chars() {
        if let Some(id) = letters::glyph(w.face, letter) {
            ids.extend(id.to_be_bytes());
        }
    }
    let [r, g, b] = colour(w.colour);
    let (x, y) = w.start();
    let (cos, sin) = (w.turn.0 as f32, w.turn.1 as f32);
    let name: &[u8] = if w.face == Face::Bold { b"F1" } else { b"F0" };
    c.set_fill_rgb(r, g, b);
    c.begin_text().set_font(Name(name), w.size as f32);
    c.set_text_matrix([cos, sin, -sin, cos, rounded(x), rounded(y)]);
    c.show(Str(&ids)).end_text();
}

fn rounded(v: f64) -> f32 {
    (super::decimal::whole(v * 1e3) as f64 / 1e3) as f32
}

fn push_mark(c: &mut Content, m: &Mark) {
    if m.path.elements().is_empty() {
        return;
    }
    if let Some(fill) = m.fill {
        let [r, g, b] = colour(fill);
        c.set_fill_rgb(r, g, b);
    }
    if let Some(s) = m.stroke {
        let [r, g, b] = colour(s.colour);
        c.set_stroke_rgb(r, g, b);
        c.set_line_width(s.width as f32);
        c.set_line_cap(LineCapStyle::ButtCap).set_line_join(LineJoinStyle::RoundJoin);
        c.set_dash_pattern(s.dash.lengths().iter().map(|&l| l as f32), 0.0);
    }
    push_path(c, &m.path);
    match (m.fill, m.stroke) {
        (Some(_), Some(_)) => c.fill_nonzero_and_stroke(),
        (Some(_), None) => c.fill_nonzero(),
        (None, Some(_)) => c.stroke(),
        (None, None) => c.end_path(),
    };
}

fn push_path(c: &mut Content, path: &BezPath) {
    let f = rounded;
    let mut last = (0.0, 0.0);
    for el in path.elements() {
        match *el {
            PathEl::MoveTo(p) => {
                c.move_to(f(p.x), f(p.y));
                last = (p.x, p.y);
            }
            PathEl::LineTo(p) => {
                c.line_to(f(p.x), f(p.y));
                last = (p.x, p.y);
            }
            PathEl::QuadTo(q, p) => {
                let third = |a: f64, b: f64| f(a + (b - a) * 2.0 / 3.0);
                c.cubic_to(
                    third(last.0, q.x),
                    third(last.1, q.y),
                    third(p.x, q.x),
                    third(p.y, q.y),
                    f(p.x),
                    f(p.y),
                );
                last = (p.x, p.y);
            }
            PathEl::CurveTo(a, b, p) => {
                c.cubic_to(f(a.x), f(a.y), f(b.x), f(b.y), f(p.x), f(p.y));
                last = (p.x, p.y);
            }
            PathEl::ClosePath => {
                c.close_path();
            }
        }
    }
}
