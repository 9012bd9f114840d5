//! Marks of panels on the template and on the map: pricked through it, before any film is laid.
//!
//! Imports: make::{panel, verify}, write::ink, write::template::band.

use super::band::Band;
use crate::make::panel::Mark;
use crate::make::verify::Verified;
use crate::write::ink::drawing::{Group, INK, Stroke, gathered, segment};

/// Arms of the cross that is pricked, mm.
const ARM: f64 = 0.7;

/// The marks of a zone: the triangle that is cut in film, and a cross at its middle; none without panels.
pub fn group(plan: &Verified, zone: usize, band: &Band) -> Option<Group> {
    let marks = plan.panels().marks(zone);
    if marks.is_empty() {
        return None;
    }
    let mut g = Group::new("panel-marks", "Marks of panels: prick them through before any film is laid");
    if plan.cup().zones.len() > 1 {
        g.id = format!("panel-marks-{zone}");
    }
    let d = &plan.cup().zones[zone].development;
    for m in &marks {
        let place = band.place(&m.pose(d, 0));
        g.stroke(gathered(&Mark::shape().moved(&place)), Stroke::solid(INK, 0.2));
        let at = place.origin();
        let (c, s) = band.level(m.at.azimuth);
        let arm = |x: f64, y: f64| (at.x + ARM * (c * x - s * y), at.y + ARM * (s * x + c * y));
        g.stroke(segment(arm(-1.0, 0.0), arm(1.0, 0.0)), Stroke::solid(INK, 0.1));
        g.stroke(segment(arm(0.0, -1.0), arm(0.0, 1.0)), Stroke::solid(INK, 0.1));
    }
    Some(g)
}
