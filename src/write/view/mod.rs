//! Pictures of the finished cup: five stills, a turn to send, and a page on which the cup is turned by hand.
//!
//! Imports: make::verify, write::ink.

pub mod camera;
pub mod light;
pub mod texture;
pub mod print;
pub mod scene;
pub mod still;
pub mod turn;
pub mod raster;
mod sides;
pub mod bare;
pub mod several;
mod parts;
pub mod mesh;
pub mod pack;
pub mod page;

use crate::make::verify::Verified;
use crate::write::ink::png;
pub use sides::{SIZE, cameras};

use bare::Bare;
use camera::Camera;
use rayon::prelude::*;
use scene::Scene;
use serde::Serialize;
use sides::VIEWS;
use still::{BareRender, Picture};

/// A still as it is written.
#[derive(Clone, Debug)]
pub struct View {
    /// Short name: `front`.
    pub name: &'static str,
    /// What it shows, for people who do not see it.
    pub message: &'static str,
    /// How it was taken.
    pub camera: Camera,
    /// The picture.
    pub picture: Picture,
    /// As a PNG file.
    pub png: Vec<u8>,
}

/// What the manifest says of a view: a point of the wall is found again on the picture by the formula of
/// [`camera`].
#[derive(Clone, Debug, Serialize)]
pub struct ViewPart {
    /// Path within the kit.
    pub file: String,
    /// Pixels from left to right.
    pub width_px: usize,
    /// Pixels from top to bottom.
    pub height_px: usize,
    /// How it was taken.
    #[serde(flatten)]
    pub camera: Camera,
}

impl View {
    /// Path within the kit.
    pub fn file(&self) -> String {
        format!("view/{}.png", self.name)
    }
    /// For the manifest.
    pub fn part(&self) -> ViewPart {
        ViewPart {
            file: self.file(),
            width_px: self.picture.width,
            height_px: self.picture.height,
            camera: self.camera,
        }
    }
}

/// Why there are no pictures.
#[derive(Debug)]
pub enum Trouble {
    /// What the PNG encoder says.
    Png(png::Trouble),
    /// A piece that could not be put into triangles.
    Untiled(mesh::Untiled),
}

impl std::fmt::Display for Trouble {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Trouble::Png(e) => e.fmt(f),
            Trouble::Untiled(e) => e.fmt(f),
        }
    }
}

impl From<png::Trouble> for Trouble {
    fn from(e: png::Trouble) -> Self {
        Trouble::Png(e)
    }
}

impl From<mesh::Untiled> for Trouble {
    fn from(e: mesh::Untiled) -> Self {
        Trouble::Untiled(e)
    }
}

/// All pictures of a plan.
pub struct Pictures {
    /// The stills.
    pub views: Vec<View>,
    /// The animated turn, a PNG.
    pub turn: Vec<u8>,
    /// The page, HTML.
    pub page: Vec<u8>,
}

/// Path of the animated turn within the kit.
pub const TURN: &str = "view/turn.png";
/// Path of the page within the kit.
pub const PAGE: &str = "view/turn.html";

/// Pictures of a scene by cameras; what cameras of one elevation see alike is worked out once.
pub fn stills(scene: &Scene, cameras: &[Camera], size: (usize, usize)) -> Vec<Picture> {
    let heights = bare::elevations(cameras);
    let undecorated: Vec<BareRender> = heights.par_iter().map(|c| BareRender::new(scene, c, size)).collect();
    let still = |c: &Camera| {
        let own = heights.iter().zip(&undecorated).find(|(h, _)| h.elevation == c.elevation);
        own.map(|(_, n)| n.dressed(scene, c))
    };
    cameras.par_iter().filter_map(still).collect()
}

/// The stills of a scene, from its bare cup.
pub fn views(scene: &Scene, bare: &Bare) -> Result<Vec<View>, png::Trouble> {
    let cameras = cameras(scene, SIZE);
    let view = |(i, &camera): (usize, &Camera)| {
        let (name, message, _, _) = VIEWS[i];
        let picture = bare.still(scene, &camera);
        let png = png::rgba(picture.width, picture.height, &picture.rgba)?;
        Ok(View { name, message, camera, picture, png })
    };
    cameras.par_iter().enumerate().map(view).collect()
}

/// All pictures of a plan; `ready` is its bare cup, if that was made ahead.
///
/// # Errors
/// What the PNG encoder says, or a piece that could not be put into triangles.
pub fn pictures(plan: &Verified, ready: Option<&Bare>) -> Result<Pictures, Trouble> {
    let scene = Scene::new(plan);
    if !scene.sections.is_empty() {
        let texture = texture::UnwrappedTexture::new(&scene.patches, &scene.body, turn::COLUMNS);
        let (views, turn) =
            rayon::join(|| several::views(&scene, &texture), || several::animated(&scene, &texture));
        let views = views?;
        let page = page::html(plan, &scene, &mesh::meshes(plan)?, &views);
        return Ok(Pictures { views, turn: turn?, page });
    }
    let made;
    let bare = match ready {
        Some(ready) if ready.fits(&scene) => ready,
        _ => {
            made = Bare::new(&scene);
            &made
        }
    };
    let grid = || texture::UnwrappedTexture::new(&scene.patches, &scene.body, turn::COLUMNS);
    let ((views, meshes), texture) =
        rayon::join(|| rayon::join(|| views(&scene, bare), || mesh::meshes(plan)), grid);
    let (views, meshes) = (views?, meshes?);
    let turn = || turn::animated(&scene, &texture, &bare.turn);
    let (turn, page) = rayon::join(turn, || page::html(plan, &scene, &meshes, &views));
    let turn = turn?;
    Ok(Pictures { views, turn, page })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The twin of what cameras of one elevation share: each picture made from nothing, byte for byte.
    #[test]
    fn shared_stills_are_those_made_one_by_one() {
        let plan = crate::write::sample::plan(180.0, 0.0);
        let scene = Scene::new(&plan);
        let cameras = cameras(&scene, SIZE);
        let shared = stills(&scene, &cameras, SIZE);
        assert_eq!(shared.len(), 5);
        for (c, shared) in cameras.iter().zip(&shared) {
            assert!(still::still(&scene, c, SIZE) == *shared, "{}", c.azimuth);
        }
    }
}
