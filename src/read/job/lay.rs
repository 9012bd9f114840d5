//! How a film's pieces come from the sheet to the wall: one by one, one by one in the order of the wall, or in
//! panels.
//!
//! Imports: base, read::job::keys.

use super::keys::Worded;
use crate::base::units::Mm;

/// How a film's pieces are laid out on its sheets, and laid on the wall.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Lay {
    /// One by one, with the least film.
    #[default]
    Singly,
    /// One by one; on the sheet each spot lies near the one that is placed before it.
    Woven,
    /// Many at once on transfer tape, cut at their places of the wall; what is in no panel, one by one.
    Panels,
    /// The same with the other films that are laid so on one carrier.
    Gathered,
}

impl Lay {
    /// Are pieces laid many at once?
    pub fn in_panels(self) -> bool {
        matches!(self, Lay::Panels | Lay::Gathered)
    }
}

impl Worded for Lay {
    const WORDS: &'static [(&'static str, Lay)] = &[
        ("singly", Lay::Singly),
        ("woven", Lay::Woven),
        ("panels", Lay::Panels),
        ("gathered", Lay::Gathered),
    ];
}

/// How spots lie on the sheet.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Turned {
    /// As takes least film.
    #[default]
    Freely,
    /// As they stand on the wall: none is turned in the hand.
    AsPlaced,
}

impl Worded for Turned {
    const WORDS: &'static [(&'static str, Turned)] =
        &[("freely", Turned::Freely), ("as-placed", Turned::AsPlaced)];
}

/// What a film asks of how it is laid.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Laying {
    /// How.
    pub how: Lay,
    /// Woven: how much longer than singly it may be, as a part.
    pub more: MoreFilm,
    /// Woven: how spots lie on the sheet.
    pub turned: Turned,
    /// Panels.
    pub panel: PanelSpec,
}

/// How much longer a woven layout may be, as a part of the other.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MoreFilm(pub f64);

impl Default for MoreFilm {
    fn default() -> Self {
        MoreFilm(0.05)
    }
}

/// What is asked of panels of a film.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PanelSpec {
    /// Largest size: along the ring, at the panel's top, and up the wall.
    pub largest: [Mm; 2],
    /// Least width of wall between the pieces of two panels.
    pub border: Mm,
    /// How far a mark on the wall is missed at most.
    pub read: Mm,
    /// Carrier beyond the pieces, all round.
    pub carrier: Mm,
    /// Gathered: how far a mark of a film is missed at most when it is taken up by a carrier that bears another.
    pub on_carrier: Mm,
}

impl PanelSpec {
    /// Sizes that hands lay well, common practice without a source; marks read to three tenths.
    pub const USUAL: PanelSpec = PanelSpec {
        largest: [Mm(60.0), Mm(80.0)],
        border: Mm(2.0),
        read: Mm(0.3),
        carrier: Mm(3.0),
        on_carrier: Mm(0.0),
    };
    /// Of several films: through all of them the wall has no border wider than the gaps of its spots. On the table
    /// marks are met more truly than on the wall: common practice without a source.
    pub const GATHERED: PanelSpec = PanelSpec { border: Mm(1.0), on_carrier: Mm(0.2), ..PanelSpec::USUAL };
}

impl Default for PanelSpec {
    fn default() -> Self {
        PanelSpec::USUAL
    }
}
