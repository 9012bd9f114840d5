//! What the manifest says of how pieces come to the wall.
//!
//! Imports: read::job, make::{piece, panel, film, verify}, write::template.

use super::template::panel as paper;
use crate::make::film::SheetLayout;
use crate::make::film::hops::{self, Hops};
use crate::make::panel::{Mark, Narrowest, Panel};
use crate::make::verify::{CutPlan, Verified};
use crate::read::job::Lay;
use serde::Serialize;

/// How near spots lie on a sheet in the order of placing.
#[derive(Serialize)]
pub(super) struct OrderPart {
    mean_hop_mm: f64,
    hops: usize,
    hops_over_40_mm: usize,
    next_among_six_part: f64,
}

/// Of a sheet; none where its film is not woven.
pub(super) fn order(plan: &Verified, sheet: &SheetLayout) -> Option<OrderPart> {
    if plan.job().films[sheet.film.0].cut.lay.how != Lay::Woven {
        return None;
    }
    let hops = Hops::of(&hops::places(sheet, &|p| plan.piece_at(p)));
    let rounded = |v: f64| (v * 1000.0).round() / 1000.0;
    Some(OrderPart {
        mean_hop_mm: rounded(hops.mean()),
        hops: hops.each.len(),
        hops_over_40_mm: hops.far(),
        next_among_six_part: rounded(hops.near_part()),
    })
}

/// Panels of a kit.
#[derive(Serialize)]
pub(super) struct PanelsPart {
    /// Panels and single pieces laid on the wall of a cup.
    layings: usize,
    panels: Vec<PanelPart>,
    #[serde(skip_serializing_if = "Option::is_none")]
    narrowest: Option<NarrowestPart>,
    /// The narrowest gap between films on one carrier.
    #[serde(skip_serializing_if = "Option::is_none")]
    narrowest_on_carrier: Option<NarrowestPart>,
    /// Films taken up onto carriers.
    #[serde(skip_serializing_if = "Option::is_none")]
    gatherings: Option<usize>,
}

#[derive(Serialize)]
struct PanelPart {
    film: String,
    number: usize,
    /// Which film it is that the carrier of a gathered panel takes up, from 1.
    #[serde(skip_serializing_if = "Option::is_none")]
    taken_up: Option<usize>,
    file: String,
    pieces: Vec<u32>,
    /// Turns of the cup by which each piece's place on the plane is lifted to lie beside the others'.
    turns: Vec<i32>,
    /// Its middle, from the front line and up the wall.
    azimuth_deg: f64,
    up_mm: f64,
    /// Its middle on the developed plane, and its turn there.
    plane_x_mm: f64,
    plane_y_mm: f64,
    plane_turn_deg: f64,
    /// Along the ring and up the wall.
    size_mm: [f64; 2],
    #[serde(skip_serializing_if = "Option::is_none")]
    border_mm: Option<f64>,
    marks: Vec<MarkPart>,
    #[serde(skip_serializing_if = "Option::is_none")]
    off_mm: Option<f64>,
    web: WebPart,
}

/// What is weeded off a panel.
#[derive(Serialize)]
struct WebPart {
    /// Parts that hang together through places wider than 1.5 mm.
    parts: usize,
    /// Lines that part it, on the panel: two points each.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    lines_mm: Vec<[[f64; 2]; 2]>,
    /// Pairs of pieces nearer than 1.5 mm: where it tears.
    narrow_gaps: usize,
}

#[derive(Serialize)]
struct MarkPart {
    azimuth_deg: f64,
    up_mm: f64,
    room_mm: f64,
    /// On the panel, from its middle, x to the right and y up.
    panel_x_mm: f64,
    panel_y_mm: f64,
}

#[derive(Serialize)]
struct NarrowestPart {
    pieces: [u32; 2],
    gap_mm: f64,
    left_mm: f64,
}

/// Of a plan; none where everything is laid one by one.
pub(super) fn panels(plan: &Verified) -> Option<PanelsPart> {
    let all = plan.panels();
    if all.list.is_empty() {
        return None;
    }
    let fixed = |v: f64, decimals: i32| {
        let by = 10f64.powi(decimals);
        (v * by).round() / by
    };
    let part = |p: &Panel| {
        let d = &plan.cup().zones[p.zone].development;
        let home = p.pose.inverse();
        let mark = |(m, n): &(Mark, i32)| {
            let at = home.apply(m.middle(d, *n));
            MarkPart {
                azimuth_deg: fixed(m.at.azimuth.deg(), 4),
                up_mm: fixed(m.at.slant.0, 3),
                room_mm: fixed(m.room.0, 3),
                panel_x_mm: fixed(at.x, 4),
                panel_y_mm: fixed(at.y, 4),
            }
        };
        PanelPart {
            film: plan.job().films[p.film.0].name.clone(),
            number: p.number,
            taken_up: p.part.map(|p| p.nth),
            file: paper::file_name(plan, p),
            pieces: p.members.iter().map(|m| m.number).collect(),
            turns: p.members.iter().map(|m| m.turns).collect(),
            azimuth_deg: fixed(p.middle.azimuth.deg(), 4),
            up_mm: fixed(p.middle.slant.0, 3),
            plane_x_mm: fixed(p.pose.origin().x, 4),
            plane_y_mm: fixed(p.pose.origin().y, 4),
            plane_turn_deg: fixed(p.pose.turn().deg(), 5),
            size_mm: p.size.map(|s| fixed(s.0, 3)),
            border_mm: p.border.map(|b| fixed(b.0, 3)),
            marks: p.marks.iter().map(mark).collect(),
            off_mm: p.off.map(|o| fixed(o.0, 4)),
            web: WebPart {
                parts: p.web.parts,
                lines_mm: p.web.lines.iter().map(|l| l.map(|q| q.map(|v| fixed(v, 4)))).collect(),
                narrow_gaps: p.web.narrow,
            },
        }
    };
    let narrowest = |n: Narrowest| NarrowestPart {
        pieces: n.pieces,
        gap_mm: fixed(n.gap.0, 4),
        left_mm: fixed(n.left.0, 4),
    };
    let single = |p: &&crate::make::piece::Piece| all.of(p.number).is_none();
    Some(PanelsPart {
        layings: all.layings().count() + plan.on_wall().filter(single).count(),
        panels: all.list.iter().map(part).collect(),
        narrowest: all.narrowest.map(narrowest),
        narrowest_on_carrier: all.on_carrier.map(narrowest),
        gatherings: Some(all.gatherings()).filter(|n| *n > 0),
    })
}
