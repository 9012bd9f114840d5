//! What can be wrong with a decal.
//!
//! Imports: base.

use crate::base::diag::Code;

/// Size of names.
pub const SIZE: Code = Code {
    id: "decal/names-size",
    title: "all names of a list have one size",
    explain: "Names of a list are lettered at a common size on a common baseline: the largest at which at most a \
        tenth of the rows (one of a short list) must be made smaller, none to below 0.85 of it, and the highest and lowest letter of \
        the whole list stay within the window. `cap-height` fixes it, so that a cup ordered later matches.",
};
/// A name smaller than the others.
pub const NAME_SMALL: Code = Code {
    id: "decal/name-smaller",
    title: "a name is lettered smaller than the others",
    explain: "A name that is too long for the window at the common size is made smaller by itself; from a tenth \
        on that is seen beside the others. Below 0.6 it no longer goes with them.",
};
/// Over the window.
pub const OVER_WINDOW: Code = Code {
    id: "decal/over-window",
    title: "a name reaches out of its window",
    explain: "The wall is laid out once round the window of the names, so nothing of a name may lie outside of it.",
};
/// Too high or too low.
pub const OVER_BAND: Code = Code {
    id: "decal/over-band",
    title: "a decal reaches into a keep-clear band",
    explain: "Lips touch the wall near the rim and the wall curves in near the base, so film stays out of \
        both bands. The decal's lowest layer counts, not only its art. Move it by the millimetres named, \
        make it smaller, or give its layers less offset. On a taper the ends of a wide straight decal stand \
        higher than its middle.",
};
/// Over the seam.
pub const OVER_SEAM: Code = Code {
    id: "decal/over-seam",
    title: "a decal lies over the seam",
    explain: "A stack of films does not go flat over a seam, and the eye is drawn to a break in a name. \
        Turn the decal to another azimuth by the millimetres named, or move the seam of the template.",
};
/// Over the handle.
pub const OVER_HANDLE: Code = Code {
    id: "decal/over-handle",
    title: "a decal comes too near the handle",
    explain: "Film cannot be rubbed down under a handle. The decal and its clearance stay out of the \
        handle's window.",
};
/// Too near another decal.
pub const TOO_NEAR: Code = Code {
    id: "decal/too-near",
    title: "two decals are too near each other",
    explain: "Between two decals the larger of their clearances stays free, measured between their lowest \
        layers.",
};
/// A line that is not level.
pub const NOT_LEVEL: Code = Code {
    id: "decal/not-level",
    title: "a straight line of a decal departs from level on this taper",
    explain: "On a tapered cup level lines are arcs on the film. Art laid as drawn touches its parallel in \
        the middle, and at its ends departs by w^2/(8 R): w is the width of the line, R the radius of the \
        developed wall at its height. `lies = \"upright\"` sets each letter on the arc, `lies = \"bent\"` \
        bends everything, `level` says how much is let pass.",
};
/// No room for the layers.
pub const NO_WINDOW: Code = Code {
    id: "decal/window-too-small",
    title: "the window leaves no room for the art itself",
    explain: "A window holds the whole decal, its lowest layer counted. Here the offsets of the layers \
        alone take it up. Give it a larger window, or the layers less offset.",
};
/// A colour without a film.
pub const COLOUR: Code = Code {
    id: "decal/colour-without-film",
    title: "a colour of the drawing has no film",
    explain: "When a drawing is split by its colours, each colour that shows needs a film in `colours`. \
        Name colours as `#rrggbb`. Patterns have no colour of their own: draw such areas in a plain one.",
};
/// A film without a part.
pub const IDLE_FILM: Code = Code {
    id: "decal/film-without-part",
    title: "a film of a decal's top has nothing to show",
    explain: "Films take lines, words or letters in turn, or colours by name. One film more was named than \
        there are parts, or a colour that the drawing does not show.",
};
/// Gaps were closed.
pub const CLOSED: Code = Code {
    id: "decal/gaps-closed",
    title: "counters and gaps of a lower layer are closed",
    explain: "Gaps narrower than the film can be weeded are filled in lower layers; the layer above covers \
        or frames them. `close` sets the width per layer, 0 keeps every gap.",
};
/// The stack's thickness.
pub const THICK: Code = Code {
    id: "decal/thick",
    title: "a stack of films is thick",
    explain: "Each layer of film stands up by its thickness, and a coat over it has to bury the thickest \
        place: count on more coats. A lower layer hollowed under the one above (`overlap`) keeps the stack \
        thin.",
};
/// Sharp corners.
pub const SHARP: Code = Code {
    id: "decal/sharp-corner",
    title: "a corner of a decal is sharper than a blade turns well",
    explain: "A drag knife swivels behind its axis: at a very sharp corner it lifts or tears the tip, and \
        the tip peels first when the waste is weeded. `sharpest` says from which angle on a corner is told \
        (common practice, no source: 25 degrees).",
};
/// Small parts.
pub const SMALL: Code = Code {
    id: "decal/small-part",
    title: "a part of a decal, or a hole in it, is too small to handle",
    explain: "Small loose parts come up with the waste and small holes are missed by the pick. `island` \
        says which extent is small; it is twice the film's `weed` unless the job says otherwise.",
};
/// Art that cannot follow the wall.
pub const CANNOT_BEND: Code = Code {
    id: "decal/cannot-bend",
    title: "the art is too high to be bent round this wall",
    explain: "Bending lays level lines on parallels. A part of this art lies so far up or down that the \
        wall, carried on, would come to a point there. Make the art smaller, or lay it rigid.",
};
/// The automatic mend changed something.
pub const MENDED: Code = Code {
    id: "decal/mended",
    title: "narrow places of a decal were mended",
    explain: "With `mend = true`, film narrower than its film's smallest weedable feature (`weed`) is \
        thickened to it, and narrower gaps are filled, only where needed. Look at the decal's paper: \
        letters may have run together.",
};
/// No place for keys.
pub const NO_KEYS: Code = Code {
    id: "decal/no-place-for-keys",
    title: "there is no place for the registration keys",
    explain: "Keys are laid on the cup to align the layers and peeled off again, so they have to lie on the \
        wall: above the decal, below it or beside it. Make the decal or its keys smaller, or write `keys = \
        false` and align the layers by eye.",
};

/// All codes of this module.
pub const CODES: &[&Code] = &[
    &SIZE,
    &NAME_SMALL,
    &OVER_WINDOW,
    &OVER_BAND,
    &OVER_SEAM,
    &OVER_HANDLE,
    &TOO_NEAR,
    &NOT_LEVEL,
    &NO_WINDOW,
    &COLOUR,
    &IDLE_FILM,
    &CLOSED,
    &THICK,
    &SHARP,
    &SMALL,
    &CANNOT_BEND,
    &MENDED,
    &NO_KEYS,
];
