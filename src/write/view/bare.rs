//! [`Bare`]: what pictures show of a cup before it wears anything. It hangs on cup and ground alone, so that
//! it can be made while other stages run.
//!
//! Imports: read::job, make::cup, write::view::{camera, scene, still, turn, sides}.

use super::camera::Camera;
use super::scene::Scene;
use super::sides::{SIZE, cameras};
use super::still::{BareRender, Picture};
use super::turn::BareTurn;
use crate::make::cup::Cup;
use crate::read::job::Job;
use rayon::prelude::*;

/// The bare cup in the stills and in the animated turn.
pub struct Bare {
    /// What it was made of.
    scene: Scene,
    /// The stills' cup, once for each elevation, degrees.
    stills: Vec<(f64, BareRender)>,
    /// The turn's.
    pub turn: BareTurn,
}

impl Bare {
    /// Of a job's cup.
    pub fn of(job: &Job, cup: &Cup) -> Bare {
        Bare::new(&Scene::bare(job, cup))
    }
    /// Of a scene, whatever is worn in it.
    pub fn new(scene: &Scene) -> Bare {
        let heights = elevations(&cameras(scene, SIZE));
        let bare = |c: &Camera| (c.elevation, BareRender::new(scene, c, super::SIZE));
        let (stills, turn) = rayon::join(|| heights.par_iter().map(bare).collect(), || BareTurn::new(scene));
        Bare { scene: scene.undecorated(), stills, turn }
    }
    /// Is it the bare cup of a scene?
    pub fn fits(&self, scene: &Scene) -> bool {
        let (a, b) = (&self.scene, scene);
        a.body == b.body
            && a.sections == b.sections
            && a.cup == b.cup
            && a.wall == b.wall
            && a.ground == b.ground
            && a.bare == b.bare
    }
    /// The still of a scene that it fits.
    pub fn still(&self, scene: &Scene, camera: &Camera) -> Picture {
        match self.stills.iter().find(|s| s.0 == camera.elevation) {
            Some((_, bare)) => bare.dressed(scene, camera),
            None => super::still::still(scene, camera, super::SIZE),
        }
    }
}

/// One camera for each elevation.
pub fn elevations(cameras: &[Camera]) -> Vec<Camera> {
    let mut out: Vec<Camera> = Vec::new();
    for c in cameras {
        if out.iter().all(|h| h.elevation != c.elevation) {
            out.push(*c);
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::read::job::{Ground, Rgb};
    use crate::write::view;

    /// The twin of what is made ahead: pictures made from nothing, byte for byte; and what was made for
    /// another cup or another ground is not taken.
    #[test]
    fn pictures_from_what_was_made_ahead_are_those_from_nothing() {
        let plan = crate::write::sample::plan(180.0, 0.0);
        let ready = Bare::of(plan.job(), plan.cup());
        let scene = Scene::new(&plan);
        assert!(ready.fits(&scene));
        let (a, b) = (view::pictures(&plan, Some(&ready)), view::pictures(&plan, None));
        let (a, b) = (a.expect("PNG"), b.expect("PNG"));
        assert!(a.turn == b.turn && a.page == b.page);
        assert!(a.views.iter().zip(&b.views).all(|(a, b)| a.png == b.png) && a.views.len() == 5);
        for c in view::cameras(&scene, view::SIZE) {
            assert!(ready.still(&scene, &c) == super::super::still::still(&scene, &c, view::SIZE));
        }
        let mut other = plan.job().clone();
        other.print.ground = Ground::Plain(Rgb([250, 250, 246]));
        let other = Bare::of(&other, plan.cup());
        assert!(!other.fits(&scene));
        let c = view::pictures(&plan, Some(&other)).expect("PNG");
        assert!(c.turn == b.turn && c.page == b.page);
        let mut wider = plan.cup().clone();
        wider.zones[0].surface.upper.0 += 1.0;
        assert!(!Bare::of(plan.job(), &wider).fits(&scene));
    }
}
