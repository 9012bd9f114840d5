//! From usvg's tree to painted shapes: transforms, fill rules, strokes and clips become regions.
//!
//! Works in *work units*: the drawing scaled so that its longer side is [`WORK`] of them, y up. Tolerances of
//! the outline kernel are absolute, so without this a drawing of 1 x 1 units would come out coarse.
//!
//! Imports: base, outline, read::{job, art}, read::art::limits.

use super::limits::{DASHES, EFFORT, PIECES, SEGMENTS};
use super::{Loss, NotCut, Shape};
use crate::base::frame::{Art, Point};
use crate::base::tolerance::{FLATTEN, SPECK_MM2};
use crate::outline::{
    Affine, BezPath, Bounds, FillRule, KurboShape, Op, Region, StrokeCap, StrokeJoin, StrokeStyle, TooHard,
    WorkBudget, rough_length, stroke_outline, subpaths,
};
use crate::read::job::Rgb;
use std::rc::Rc;
use usvg::tiny_skia_path::PathSegment;

/// Share of its box that a rectangle may lack by rounding; any other shape lacks more, or is clipped a little
/// more slowly.
const FULL_BOX: f64 = 1e-12;

/// Longer side of the drawing in work units.
pub const WORK: f64 = 100.0;
/// Farthest that a shape may reach from the drawing, in work units: the boolean engine counts in 32 bits.
const FARTHEST: f64 = 1e5;

/// Why a walk stopped.
#[derive(Clone, Debug, PartialEq)]
pub enum Stopped {
    /// Dashes of all strokes.
    Dashes(f64),
    /// Segments of all shapes.
    Segments(usize),
    /// The booleans would take more than [`EFFORT`] steps; the element where that was found.
    WorkBudget(String),
    /// A coordinate is not finite or too far out; the element.
    Far(String),
}

struct Clip {
    region: Region<Art>,
    /// The region is just this box.
    bounds: Option<Bounds<Art>>,
}

/// The walk and what it gathers.
pub struct Walk {
    /// Painted shapes, bottom first.
    pub shapes: Vec<Shape>,
    /// What is not cut.
    pub lost: Vec<NotCut>,
    page: Option<Bounds<Art>>,
    /// What is left for the union.
    pub effort: WorkBudget,
    segments: usize,
    dashes: f64,
    white_page: bool,
}

/// What a group hands to its children.
#[derive(Clone)]
struct Inherited {
    ts: Affine,
    clip: Option<Rc<Clip>>,
    opacity: f64,
    id: String,
}

/// Walks a tree. `to_work` maps usvg's pixels to work units (y up); `page` is the visible page in work units.
///
/// # Errors
/// [`Stopped`] at the first limit passed.
pub fn walk(tree: &usvg::Tree, to_work: Affine, page: Option<Bounds<Art>>) -> Result<Walk, Stopped> {
    let mut w = Walk {
        shapes: Vec::new(),
        lost: Vec::new(),
        page,
        effort: WorkBudget::steps(EFFORT),
        segments: 0,
        dashes: 0.0,
        white_page: false,
    };
    let top = Inherited { ts: to_work, clip: None, opacity: 1.0, id: String::new() };
    w.group(tree.root(), &top)?;
    w.drop_white_page();
    Ok(w)
}

fn affine(t: usvg::Transform) -> Affine {
    Affine::new([t.sx, t.ky, t.kx, t.sy, t.tx, t.ty].map(f64::from))
}

/// Largest factor by which a map stretches.
fn stretch(by: &Affine) -> f64 {
    let [a, b, c, d, _, _] = by.as_coeffs();
    let (u, v) = (a * a + b * b, c * c + d * d);
    ((u + v) / 2.0 + libm::hypot((u - v) / 2.0, a * c + b * d)).sqrt()
}

fn curve_path(path: &usvg::tiny_skia_path::Path) -> BezPath {
    let p = |p: usvg::tiny_skia_path::Point| (f64::from(p.x), f64::from(p.y));
    let mut out = BezPath::new();
    for seg in path.segments() {
        match seg {
            PathSegment::MoveTo(a) => out.move_to(p(a)),
            PathSegment::LineTo(a) => out.line_to(p(a)),
            PathSegment::QuadTo(a, b) => out.quad_to(p(a), p(b)),
            PathSegment::CubicTo(a, b, c) => out.curve_to(p(a), p(b), p(c)),
            PathSegment::Close => out.close_path(),
        }
    }
    out
}

fn rule(r: usvg::FillRule) -> FillRule {
    match r {
        usvg::FillRule::NonZero => FillRule::NonZero,
        usvg::FillRule::EvenOdd => FillRule::EvenOdd,
    }
}

impl Walk {
    fn lose(&mut self, how: Loss, what: &str, why: impl Into<String>, id: &str) {
        let place = if id.is_empty() { "an element without id".to_owned() } else { format!("id \"{id}\"") };
        self.lost.push(NotCut { what: what.to_owned(), why: why.into(), place, how });
    }

    fn group(&mut self, g: &usvg::Group, from: &Inherited) -> Result<(), Stopped> {
        let mut here = from.clone();
        here.ts = from.ts * affine(g.transform());
        here.opacity *= f64::from(g.opacity().get());
        if !g.id().is_empty() {
            g.id().clone_into(&mut here.id);
        }
        if let Some(clip) = g.clip_path() {
            here.clip = Some(self.clip(clip, &here)?);
        }
        if g.mask().is_some() {
            self.lose(
                Loss::CutPlain,
                "mask",
                "film is there or not: what the mask fades or hides is cut whole",
                &here.id,
            );
        }
        if !g.filters().is_empty() {
            self.lose(
                Loss::CutPlain,
                "filter effect",
                "blur, shadow and the like have no outline: the shape under it is cut",
                &here.id,
            );
        }
        if g.blend_mode() != usvg::BlendMode::Normal {
            self.lose(Loss::CutPlain, "blend mode", "film does not blend: the shape is cut whole", &here.id);
        }
        for node in g.children() {
            match node {
                usvg::Node::Group(g) => self.group(g, &here)?,
                usvg::Node::Path(p) => self.path(p, &here)?,
                usvg::Node::Text(t) => self.lose(Loss::LeftOut, "text", "it needs a font", t.id()),
                usvg::Node::Image(_) => {} // the scan of the XML has listed it
            }
        }
        Ok(())
    }

    fn path(&mut self, p: &usvg::Path, from: &Inherited) -> Result<(), Stopped> {
        let id = if p.id().is_empty() { from.id.clone() } else { p.id().to_owned() };
        if p.fill().is_none() && p.stroke().is_none() {
            return Ok(()); // `none`, or a paint that is missing, which the scan of the XML has listed
        }
        if !p.is_visible() {
            self.lose(Loss::LeftOut, "hidden shape", "it is invisible in the drawing (visibility)", &id);
            return Ok(());
        }
        let data = curve_path(p.data());
        for stroke_now in match p.paint_order() {
            usvg::PaintOrder::FillAndStroke => [false, true],
            usvg::PaintOrder::StrokeAndFill => [true, false],
        } {
            if stroke_now {
                if let Some(s) = p.stroke() {
                    self.stroke(&data, s, from, &id)?;
                }
            } else if let Some(f) = p.fill() {
                let (paths, fill_rule) = (from.ts * data.clone(), rule(f.rule()));
                self.paint((&paths, fill_rule), (f.paint(), f.opacity()), from, &id)?;
            }
        }
        Ok(())
    }

    fn stroke(
        &mut self,
        data: &BezPath,
        s: &usvg::Stroke,
        from: &Inherited,
        id: &str,
    ) -> Result<(), Stopped> {
        let style = StrokeStyle {
            width: f64::from(s.width().get()),
            cap: match s.linecap() {
                usvg::LineCap::Butt => StrokeCap::Butt,
                usvg::LineCap::Round => StrokeCap::Round,
                usvg::LineCap::Square => StrokeCap::Square,
            },
            join: match s.linejoin() {
                usvg::LineJoin::Miter | usvg::LineJoin::MiterClip => StrokeJoin::Miter,
                usvg::LineJoin::Round => StrokeJoin::Round,
                usvg::LineJoin::Bevel => StrokeJoin::Bevel,
            },
            mitre_limit: f64::from(s.miterlimit().get()),
            dashes: s.dasharray().map(|d| d.iter().map(|v| f64::from(*v)).collect()).unwrap_or_default(),
            dash_offset: f64::from(s.dashoffset()),
        };
        if s.linejoin() == usvg::LineJoin::MiterClip {
            self.lose(Loss::CutPlain, "clipped mitre", "long mitres are cut to a bevel instead", id);
        }
        if !style.dashes.is_empty() {
            self.dashes += style.dash_count(rough_length(data));
            if self.dashes.is_nan() || self.dashes > DASHES {
                return Err(Stopped::Dashes(self.dashes));
            }
        }
        let scale = stretch(&from.ts);
        if !(scale > 0.0 && scale.is_finite()) {
            return Ok(()); // squeezed to nothing
        }
        let outline = from.ts * stroke_outline(data, &style, FLATTEN.get() / scale);
        self.paint((&outline, FillRule::NonZero), (s.paint(), s.opacity()), from, id)
    }

    fn paint(
        &mut self,
        (paths, fill_rule): (&BezPath, FillRule),
        (paint, opacity): (&usvg::Paint, usvg::Opacity),
        from: &Inherited,
        id: &str,
    ) -> Result<(), Stopped> {
        let opacity = from.opacity * f64::from(opacity.get());
        if opacity < 1.0 / 255.0 {
            self.lose(Loss::LeftOut, "transparent shape", "nothing of it can be seen (opacity 0)", id);
            return Ok(());
        }
        let Some(region) = self.region(paths, fill_rule, id)? else { return Ok(()) };
        let region = self.clipped(region, from.clip.as_deref(), id)?;
        if region.is_empty() {
            return Ok(());
        }
        if opacity < 0.999 {
            self.lose(
                Loss::CutPlain,
                "translucent shape",
                format!("film is solid: opacity {opacity:.2} is cut whole"),
                id,
            );
        }
        let colour = self.colour(paint, id);
        let covers = self.page.is_some_and(|p| covers_page(&region, &p));
        self.white_page |= self.shapes.is_empty() && colour == Some(Rgb([255; 3])) && covers;
        self.shapes.push(Shape { region, colour, id: id.to_owned() });
        Ok(())
    }

    /// The area that paths fill; `None` where they lie wholly off the page or are flat.
    fn region(
        &mut self,
        paths: &BezPath,
        fill_rule: FillRule,
        id: &str,
    ) -> Result<Option<Region<Art>>, Stopped> {
        let b = paths.bounding_box();
        if !paths.is_finite() {
            return Err(Stopped::Far(id.to_owned()));
        }
        if let Some(page) = self.page {
            let off = b.x1 <= page.min.x || b.x0 >= page.max.x || b.y1 <= page.min.y || b.y0 >= page.max.y;
            if off && b.width() > 0.0 && b.height() > 0.0 {
                self.lose(
                    Loss::LeftOut,
                    "shape off the page",
                    "the drawing's page does not show it: enlarge the page or move it in",
                    id,
                );
                return Ok(None);
            }
        }
        if [b.x0, b.y0, b.x1, b.y1].iter().any(|v| v.abs() > FARTHEST) {
            return Err(Stopped::Far(id.to_owned()));
        }
        self.segments += paths.elements().len();
        if self.segments > SEGMENTS {
            return Err(Stopped::Segments(self.segments));
        }
        let region =
            Region::filled_within(subpaths(paths), fill_rule, &mut self.effort).map_err(too_hard(id))?;
        Ok((!region.is_empty()).then_some(region))
    }

    fn clipped(
        &mut self,
        region: Region<Art>,
        clip: Option<&Clip>,
        id: &str,
    ) -> Result<Region<Art>, Stopped> {
        let mut region = region;
        if let Some(clip) = clip {
            let b = region.bounds();
            if !clip.bounds.is_some_and(|c| inside(&b, &c)) {
                region = self.common(&region, &clip.region, id)?;
            }
        }
        if let Some(page) = self.page.filter(|p| !region.is_empty() && !inside(&region.bounds(), p)) {
            let before = region.area().get();
            region = self.common(&region, &Region::rectangle(page), id)?;
            let part = 1.0 - region.area().get() / before;
            if before * part > SPECK_MM2 {
                let why =
                    format!("{:.1} % of it lies off the page, which the drawing does not show", part * 100.0);
                self.lose(Loss::LeftOut, "part of a shape", why, id);
            }
        }
        Ok(region)
    }

    /// What two regions have in common.
    fn common(&mut self, a: &Region<Art>, b: &Region<Art>, id: &str) -> Result<Region<Art>, Stopped> {
        a.op_within(b, Op::Intersection, &mut self.effort).map_err(too_hard(id))
    }

    /// The area that a clip lets through, together with the clips above it.
    fn clip(&mut self, clip: &usvg::ClipPath, from: &Inherited) -> Result<Rc<Clip>, Stopped> {
        let ts = from.ts * affine(clip.transform());
        let page = self.page.take(); // a clip larger than the page is no loss
        let result = self.clip_region(clip.root(), ts).and_then(|region| match clip.clip_path() {
            Some(outer) => {
                let outer = self.clip(outer, &Inherited { clip: None, ..from.clone() })?;
                self.common(&region, &outer.region, clip.id())
            }
            None => Ok(region),
        });
        self.page = page;
        let mut region = result?;
        if let Some(above) = &from.clip {
            region = self.common(&region, &above.region, clip.id())?;
        }
        let bounds = box_of(&region);
        Ok(Rc::new(Clip { region, bounds }))
    }

    fn clip_region(&mut self, g: &usvg::Group, ts: Affine) -> Result<Region<Art>, Stopped> {
        let mut parts = Vec::new();
        for node in g.children() {
            match node {
                usvg::Node::Group(g) => {
                    let ts = ts * affine(g.transform());
                    let mut part = self.clip_region(g, ts)?;
                    if let Some(inner) = g.clip_path() {
                        let above = Inherited { ts, clip: None, opacity: 1.0, id: g.id().to_owned() };
                        let inner = self.clip(inner, &above)?;
                        part = self.common(&part, &inner.region, g.id())?;
                    }
                    parts.push(part);
                }
                usvg::Node::Path(p) if p.is_visible() => {
                    let fill_rule = p.fill().map_or(FillRule::NonZero, |f| rule(f.rule()));
                    parts.extend(self.region(&(ts * curve_path(p.data())), fill_rule, p.id())?);
                }
                _ => {}
            }
        }
        match parts.len() {
            1 => Ok(parts.remove(0)),
            _ => Region::union_within(&parts, &mut self.effort).map_err(too_hard(g.id())),
        }
    }

    fn colour(&mut self, paint: &usvg::Paint, id: &str) -> Option<Rgb> {
        match paint {
            usvg::Paint::Color(c) => Some(Rgb([c.red, c.green, c.blue])),
            usvg::Paint::LinearGradient(g) => Some(self.gradient(g.stops(), id)),
            usvg::Paint::RadialGradient(g) => Some(self.gradient(g.stops(), id)),
            usvg::Paint::Pattern(_) => {
                self.lose(Loss::CutPlain, "pattern", "its area is cut solid, without the pattern", id);
                None
            }
        }
    }

    fn gradient(&mut self, stops: &[usvg::Stop], id: &str) -> Rgb {
        let faded = stops.iter().any(|s| s.opacity().get() < 0.999);
        let fade = if faded { ", also where it fades to nothing" } else { "" };
        self.lose(
            Loss::CutPlain,
            "gradient",
            format!("film has one colour: the shape is cut solid{fade}"),
            id,
        );
        let mean = |part: fn(&usvg::Color) -> u8| {
            let sum: u32 = stops.iter().map(|s| u32::from(part(&s.color()))).sum();
            (sum / stops.len().max(1) as u32) as u8
        };
        Rgb([mean(|c| c.red), mean(|c| c.green), mean(|c| c.blue)])
    }

    /// A white sheet behind everything is paper, not film.
    fn drop_white_page(&mut self) {
        if self.white_page && self.shapes.len() > 1 {
            let shape = self.shapes.remove(0);
            self.lose(
                Loss::LeftOut,
                "white background",
                "a white area behind the whole page is taken for paper",
                &shape.id,
            );
        }
    }
}

fn inside(b: &Bounds<Art>, outer: &Bounds<Art>) -> bool {
    b.min.x >= outer.min.x && b.min.y >= outer.min.y && b.max.x <= outer.max.x && b.max.y <= outer.max.y
}

fn covers_page(region: &Region<Art>, page: &Bounds<Art>) -> bool {
    let whole = (page.width() * page.height()).get();
    region.contours().len() == 1 && region.area().get() > 0.995 * whole
}

/// The box that a region is, if it is one.
fn box_of(region: &Region<Art>) -> Option<Bounds<Art>> {
    let b = region.bounds();
    let full = (b.width() * b.height()).get();
    (region.contours().len() == 1 && full > 0.0 && region.area().get() >= full * (1.0 - FULL_BOX))
        .then_some(b)
}

fn too_hard(id: &str) -> impl FnOnce(TooHard) -> Stopped + '_ {
    move |TooHard| Stopped::WorkBudget(id.to_owned())
}

/// More outlines than allowed?
pub fn too_many_pieces(region: &Region<Art>) -> bool {
    region.contours().len() > PIECES
}

/// A box in work units.
pub fn work_box(x0: f64, y0: f64, x1: f64, y1: f64) -> Bounds<Art> {
    Bounds { min: Point::mm(x0, y0), max: Point::mm(x1, y1) }
}

/// Specks below what a blade can cut, taken out; how many.
pub fn without_specks(region: &Region<Art>) -> (Region<Art>, usize) {
    let (keep, specks): (Vec<BezPath>, Vec<BezPath>) =
        region.contours().iter().cloned().partition(|c| c.area().abs() >= SPECK_MM2);
    (Region::trusted(keep), specks.len())
}
