//! Keys of `[gathered]`.
//!
//! Imports: base, read::job::{keys, lay}.

use super::super::keys::{Key, Own, Table, table};
use super::super::lay::PanelSpec;
use crate::base::units::Mm;

table! { "gathered", false, "What is asked of panels of all films that are laid \"gathered\", on one carrier.";
    LARGEST: Own = Key::new("largest", "Their largest size: [along the ring, up the wall].", "[60, 80]")
        .kind("two lengths").allowed("10 mm to 400 mm each").usually("60 mm by 80 mm");
    BORDER: Mm = Key::new(
        "border",
        "Least wall between the pieces of two panels, of any film: hardly more than the gap of the spots.",
        "1",
    )
        .within(Mm(0.4), Mm(20.0)).or(PanelSpec::GATHERED.border);
    READ: Mm = Key::new("read", "How far a mark on the wall is missed at most.", "0.3")
        .within(Mm(0.0), Mm(3.0)).or(PanelSpec::GATHERED.read);
    ON_CARRIER: Mm = Key::new(
        "on-carrier",
        "How far a mark of a film is missed at most when the carrier takes it up over the films that it bears.",
        "0.2",
    )
        .within(Mm(0.0), Mm(3.0)).or(PanelSpec::GATHERED.on_carrier);
    CARRIER: Mm = Key::new("carrier", "Transfer tape beyond the pieces, all round.", "3")
        .within(Mm(1.0), Mm(20.0)).or(PanelSpec::GATHERED.carrier);
}
