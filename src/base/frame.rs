//! Frames: which plane a point lies in. Frames change only through [`Rigid`] (and `develop`/`wrap` of the
//! cup).
//!
//! All planar frames are in millimetres with y up; y is flipped only when a file is written.
//!
//! Imports: base::units.

use super::units::{Angle, Mm};
use std::marker::PhantomData;

/// A planar frame.
pub trait Frame: Copy + Clone + std::fmt::Debug + PartialEq + Default + Send + Sync + 'static {
    /// Its name, for messages.
    const NAME: &'static str;
}

macro_rules! frame {
    ($(#[$doc:meta])* $name:ident) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
        pub struct $name;
        impl Frame for $name { const NAME: &'static str = stringify!($name); }
    };
}
frame!(
    /// A piece's own frame: origin at its anchor (the middle of its bounding box), up is up.
    Art
);
frame!(
    /// The developed plane: the cup's wall rolled out flat, origin at the front of the base edge.
    Plane
);
frame!(
    /// One film sheet, origin at its lower left corner.
    Sheet
);
frame!(
    /// One printed page, origin at its lower left corner.
    Page
);

/// A point of frame `F`; coordinates in millimetres.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Point<F: Frame> {
    /// To the right, mm.
    pub x: f64,
    /// Up, mm.
    pub y: f64,
    frame: PhantomData<F>,
}

impl<F: Frame> Point<F> {
    /// The origin.
    pub const ORIGIN: Self = Self { x: 0.0, y: 0.0, frame: PhantomData };
    /// From two numbers of millimetres.
    #[inline]
    pub const fn mm(x: f64, y: f64) -> Self {
        Self { x, y, frame: PhantomData }
    }
    /// Distance to another point of the same frame.
    #[inline]
    pub fn distance(self, o: Self) -> Mm {
        Mm(libm::hypot(self.x - o.x, self.y - o.y))
    }
}

/// A turn and a shift from frame `A` to frame `B`: lengths, angles and handedness stay.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rigid<A: Frame, B: Frame> {
    cos: f64,
    sin: f64,
    dx: f64,
    dy: f64,
    frames: PhantomData<(A, B)>,
}

impl<A: Frame, B: Frame> Rigid<A, B> {
    /// Turn counter-clockwise about A's origin, then put that origin at `at`.
    pub fn new(turn: Angle, at: Point<B>) -> Self {
        Self { cos: turn.cos(), sin: turn.sin(), dx: at.x, dy: at.y, frames: PhantomData }
    }
    /// From cosine and sine of the turn (their squares sum to 1) and the image of the origin.
    pub fn from_parts(cos: f64, sin: f64, at: Point<B>) -> Self {
        Self { cos, sin, dx: at.x, dy: at.y, frames: PhantomData }
    }
    /// Same numbers in another frame.
    pub fn identity() -> Self {
        Self { cos: 1.0, sin: 0.0, dx: 0.0, dy: 0.0, frames: PhantomData }
    }
    /// The image of a point.
    #[inline]
    pub fn apply(&self, p: Point<A>) -> Point<B> {
        Point::mm(self.cos * p.x - self.sin * p.y + self.dx, self.sin * p.x + self.cos * p.y + self.dy)
    }
    /// First this, then `next`.
    pub fn then<C: Frame>(&self, next: &Rigid<B, C>) -> Rigid<A, C> {
        let at = next.apply(Point::mm(self.dx, self.dy));
        Rigid {
            cos: next.cos * self.cos - next.sin * self.sin,
            sin: next.sin * self.cos + next.cos * self.sin,
            dx: at.x,
            dy: at.y,
            frames: PhantomData,
        }
    }
    /// The way back.
    pub fn inverse(&self) -> Rigid<B, A> {
        Rigid {
            cos: self.cos,
            sin: -self.sin,
            dx: -(self.cos * self.dx + self.sin * self.dy),
            dy: self.sin * self.dx - self.cos * self.dy,
            frames: PhantomData,
        }
    }
    /// How far it turns, counter-clockwise.
    pub fn turn(&self) -> Angle {
        Angle::radians(libm::atan2(self.sin, self.cos))
    }
    /// Where A's origin goes.
    pub fn origin(&self) -> Point<B> {
        Point::mm(self.dx, self.dy)
    }
    /// Cosine, sine, dx, dy: for hot loops.
    #[inline]
    pub fn parts(&self) -> (f64, f64, f64, f64) {
        (self.cos, self.sin, self.dx, self.dy)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn inverse_undoes_and_then_composes(a in -9.0..9.0f64, x in -99.0..99.0f64, y in -99.0..99.0f64, px in -99.0..99.0f64, py in -99.0..99.0f64) {
            let r: Rigid<Art, Plane> = Rigid::new(Angle::radians(a), Point::mm(x, y));
            let p = Point::mm(px, py);
            let back = r.then(&r.inverse()).apply(p);
            prop_assert!(back.distance(p).get() < 1e-12 * 1e3);
            prop_assert!(r.inverse().apply(r.apply(p)).distance(p).get() < 1e-9);
        }
    }
}
