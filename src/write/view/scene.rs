//! [`Scene`]: all that a view shows of a cup, whatever the camera.
//!
//! Imports: base, read::job, make::{cup, verify}, write::view::{camera, light, texture, print}.

use super::camera::{Body, Camera, Eye, Section, sections};
use super::light::{Shades, bare, floats};
use super::print::WallPrint;
use super::texture::{COLUMNS, Patch};
use crate::base::units::{Angle, Mm};
use crate::make::cup::Cup;
use crate::make::verify::Verified;
use crate::read::job::finish::ColourBand;
use crate::read::job::{Ground, Job, Rgb, Sheen};

/// All that is shown, whatever the camera.
pub struct Scene {
    /// The cup; of several cones, its ends.
    pub body: Body,
    /// The cones of a wall that is more than one; else none.
    pub sections: Vec<Section>,
    /// What it wears.
    pub patches: Vec<Patch>,
    /// Colour and place in `shades` of each film.
    pub films: Vec<([f32; 3], usize)>,
    /// The sheens in use.
    pub shades: Vec<Shades>,
    /// Shades of the bare cup.
    pub bare: Shades,
    /// Its colour.
    pub cup: [f32; 3],
    /// The wall's colour from base edge to rim, evenly: the cup's, and the bands' that are painted on it.
    pub wall: Vec<[f32; 3]>,
    /// What stands behind.
    pub ground: Ground,
    /// The films from this place on are printed sheets.
    pub printed_from: usize,
    /// What their pieces show.
    pub print: Option<WallPrint>,
}

impl Scene {
    /// Of a plan.
    pub fn new(plan: &Verified) -> Scene {
        let patches = super::texture::patches(plan);
        let bare = Scene::bare(plan.job(), plan.cup());
        let print = WallPrint::new(plan, &patches, &bare.wall, COLUMNS);
        Scene { patches, print, ..bare }
    }
    /// Of a job, with nothing on the wall yet.
    pub fn bare(job: &Job, cup: &Cup) -> Scene {
        let mut sheens: Vec<Sheen> = Vec::new();
        let films = job.films.iter().map(|f| {
            let at = sheens.iter().position(|s| *s == f.sheen).unwrap_or_else(|| {
                sheens.push(f.sheen);
                sheens.len() - 1
            });
            (floats(f.colour), at)
        });
        let mut films: Vec<_> = films.collect();
        if !job.cup.handles.is_empty() {
            // A handle's window is shown as a matt film of its own, beyond those of the job.
            let at = sheens.iter().position(|s| *s == Sheen::Matt).unwrap_or(sheens.len());
            if at == sheens.len() {
                sheens.push(Sheen::Matt);
            }
            films.push((window(floats(job.print.cup)), at));
        }
        Scene {
            body: whole(cup),
            sections: if cup.is_cone() { Vec::new() } else { sections(cup) },
            patches: Vec::new(),
            films,
            shades: sheens.into_iter().map(Shades::of).collect(),
            bare: bare(),
            cup: floats(job.print.cup),
            wall: wall(cup.wall().0, job.print.cup, job.finish.iter().flat_map(|f| &f.bands)),
            ground: job.print.ground,
            printed_from: job.films.len() - job.sheets.len(),
            print: None,
        }
    }
    /// The same without films and what is made of them.
    pub fn undecorated(&self) -> Scene {
        Scene {
            patches: Vec::new(),
            films: Vec::new(),
            shades: Vec::new(),
            bare: self.bare.clone(),
            sections: self.sections.clone(),
            wall: self.wall.clone(),
            print: None,
            ..*self
        }
    }
}

/// The cup as one body: of several cones the radii at its ends, its height and the length of its wall.
fn whole(cup: &Cup) -> Body {
    let (low, high) = (Body::of(&cup.lowest().surface), Body::of(&cup.highest().surface));
    if cup.is_cone() {
        return low;
    }
    Body { base: low.base, rim: high.rim, height: cup.height().0, slant: cup.wall().0 }
}

/// The colour of a handle's window: the cup's, a little darker; a little lighter where the cup is dark.
pub(super) fn window(cup: [f32; 3]) -> [f32; 3] {
    const BY: f32 = 0.22;
    let to = if cup.iter().sum::<f32>() > 3.0 * 90.0 { 0.0 } else { 255.0 };
    cup.map(|v| (v + (to - v) * BY).round())
}

/// Steps of the wall's colours.
const RINGS: usize = 256;

/// The cup's colour with the bands that have one, each over those before it, as thick as its fades make it;
/// from base edge to rim, so many mm along the wall.
fn wall<'a>(long: f64, cup: Rgb, bands: impl Iterator<Item = &'a ColourBand>) -> Vec<[f32; 3]> {
    let bands: Vec<_> = bands.filter_map(|b| b.colour.map(|c| (b, floats(c)))).collect();
    let rings = if bands.is_empty() { 1 } else { RINGS };
    let at = |i: usize| {
        let up = long * (i as f64 + 0.5) / rings as f64;
        bands.iter().fold(floats(cup), |under, (b, colour)| {
            let part = b.cover(Mm(up)) as f32;
            [0, 1, 2].map(|k| under[k] + (colour[k] - under[k]) * part)
        })
    };
    (0..rings).map(at).collect()
}

impl Scene {
    /// What a printed piece that covers so much of a pixel shows there, premultiplied.
    pub(super) fn printed(
        &self,
        eye: &Eye,
        camera: &Camera,
        place: usize,
        width: usize,
        cover: u8,
    ) -> [u8; 4] {
        let Some(print) = &self.print else { return [0, 0, 0, cover] };
        let (px, py) = ((place % width) as f64 + 0.5, (place / width) as f64 + 0.5);
        let (sin, cos, y) = eye.meet(&self.body, px, py, false);
        let seen = print.at(camera.azimuth.to_radians() + libm::atan2(sin, cos), y / self.body.height);
        let part = f32::from(cover) / 255.0;
        let [r, g, b] = seen.map(|v| (v * part + 0.5) as u8);
        [r, g, b, cover]
    }
    /// The wall's colour at a height.
    pub fn wall_at(&self, y: f64) -> [f32; 3] {
        self.wall[self.ring_at(y)]
    }
    /// The wall's colour so far up along it.
    pub fn wall_along(&self, slant: f64) -> [f32; 3] {
        let ring = (slant / self.body.slant * self.wall.len() as f64).max(0.0) as usize;
        self.wall[ring.min(self.wall.len() - 1)]
    }
    /// A camera that sees the whole cup.
    pub fn camera(&self, azimuth: Angle, elevation: Angle, size: (usize, usize), edge: f64) -> Camera {
        if self.sections.is_empty() {
            return Camera::fitted(&self.body, azimuth, elevation, size, edge);
        }
        let first = self.sections.iter().map(|s| (s.body.base, s.foot));
        let circles: Vec<(f64, f64)> = first
            .zip(self.sections.iter().map(|s| (s.body.rim, s.foot + s.body.height)))
            .flat_map(|(low, high)| [low, high])
            .collect();
        Camera::on(&circles, azimuth, elevation, size, edge)
    }
    /// Place of the wall's colour at a height.
    #[inline]
    pub(super) fn ring_at(&self, y: f64) -> usize {
        let ring = (y / self.body.height * self.wall.len() as f64).max(0.0) as usize;
        ring.min(self.wall.len() - 1)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::units::Mm;

    /// Truth: a fade is an even mix by height; half way up it, half of each colour.
    #[test]
    fn bands_with_a_colour_are_on_the_wall() {
        let band = |colour| ColourBand {
            name: "earth".into(),
            from: Mm(0.0),
            to: Mm(40.0),
            fade_low: Mm(0.0),
            fade_high: Mm(20.0),
            colour,
        };
        let cup = Rgb([200, 100, 50]);
        let black = [band(Some(Rgb([0, 0, 0])))];
        let wall_of = |bands: &[ColourBand]| wall(160.0, cup, bands.iter());
        let painted = wall_of(&black);
        for (up, part) in [(10.0, 0.0), (25.0, 0.25), (30.0, 0.5), (50.0, 1.0)] {
            let ring = painted[(up / 160.0 * painted.len() as f64) as usize];
            let want = [200.0 * part, 100.0 * part, 50.0 * part];
            assert!((0..3).all(|k| (f64::from(ring[k]) - want[k]).abs() < 4.0), "{up}: {ring:?} {want:?}");
        }
        assert_eq!(wall_of(&[band(None)]), [[200.0, 100.0, 50.0]]);
    }
}
