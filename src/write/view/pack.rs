//! Meshes in few bytes: a walk round each connected part, and two bits a triangle.
//!
//! Triangles that hang together along a tree make one polygon; a walk round it meets its corners in order,
//! and the triangles are told as a stack machine's moves: 0 puts the next corner on a stack; 1 makes a
//! triangle of the three topmost and takes the middle one off. A polygon of n corners takes n moves 0 and n -
//! 2 moves 1 (a triangulation of a polygon is a binary tree: Euler 1758, Catalan 1838). Where triangles close
//! a ring about a hole, the walk goes through it along one edge, twice.
//!
//! Imports: write::view::mesh.

use super::mesh::{Corner, Mesh};
use rayon::prelude::*;

/// Numbers of the format: how long its four parts are.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Packed {
    /// Lengths of the parts in `bytes`: polygons (film and corners of each), moves, steps round, steps up.
    pub parts: [usize; 4],
    /// The parts one after another, zlib's stream.
    pub bytes: Vec<u8>,
}

/// Of meshes in painting order.
pub fn packed(meshes: &[Mesh]) -> Packed {
    let mut parts: [Vec<u8>; 4] = Default::default();
    let mut moves = Bits::default();
    let mut last: Corner = [0, 0];
    let parted: Vec<(usize, Vec<Polygon>)> = meshes.par_iter().map(|m| (m.film, polygons(m))).collect();
    for (film, polygons) in parted {
        for polygon in polygons {
            number(&mut parts[0], film as u32);
            number(&mut parts[0], polygon.corners.len() as u32);
            polygon.moves.iter().for_each(|m| moves.push(*m));
            for c in polygon.corners {
                for (k, part) in parts[2..].iter_mut().enumerate() {
                    let by = c[k] - last[k];
                    // Zigzag: small numbers of either sign are small.
                    number(part, ((by << 1) ^ (by >> 31)) as u32);
                }
                last = c;
            }
        }
    }
    parts[1] = moves.bytes;
    Packed { parts: [0, 1, 2, 3].map(|i| parts[i].len()), bytes: crate::write::pdf::packed(&parts.concat()) }
}

/// Seven bits a byte, the lowest first; the highest bit of a byte says that more follow.
fn number(out: &mut Vec<u8>, mut v: u32) {
    while v > 127 {
        out.push(v as u8 | 128);
        v >>= 7;
    }
    out.push(v as u8);
}

/// Bits in bytes, the lowest first.
#[derive(Default)]
struct Bits {
    bytes: Vec<u8>,
    used: usize,
}

impl Bits {
    fn push(&mut self, bit: bool) {
        if self.used.is_multiple_of(8) {
            self.bytes.push(0);
        }
        if let Some(byte) = self.bytes.last_mut() {
            *byte |= u8::from(bit) << (self.used % 8);
        }
        self.used += 1;
    }
}

/// A connected part of a mesh.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Polygon {
    /// Its corners as a walk round it meets them.
    pub corners: Vec<Corner>,
    /// Triangle (true) or next corner.
    pub moves: Vec<bool>,
}

/// Directed edges of triangles: to find who lies across.
struct Edges(Vec<([u32; 2], u32)>);

impl Edges {
    fn new(triangles: &[[u32; 3]]) -> Edges {
        let edges = |(i, t): (usize, &[u32; 3])| [0, 1, 2].map(|k| ([t[k], t[(k + 1) % 3]], i as u32));
        let mut all: Vec<_> = triangles.iter().enumerate().flat_map(edges).collect();
        all.sort_unstable();
        Edges(all)
    }
    /// The triangle with an edge from a to b.
    fn of(&self, a: u32, b: u32) -> Option<usize> {
        let i = self.0.binary_search_by_key(&[a, b], |e| e.0).ok()?;
        Some(self.0[i].1 as usize)
    }
}

enum Todo {
    /// The edge from one corner to another, as the triangle on the near side has it.
    Edge(u32, u32),
    Triangle,
}

/// The parts of a mesh that hang together.
pub fn polygons(mesh: &Mesh) -> Vec<Polygon> {
    let edges = Edges::new(&mesh.triangles);
    let mut done = vec![false; mesh.triangles.len()];
    let mut out = Vec::new();
    // A walk begins at an edge that nothing lies across.
    for (i, t) in mesh.triangles.iter().enumerate() {
        let free = (0..3).find(|&k| edges.of(t[(k + 1) % 3], t[k]).is_none());
        if let Some(k) = free.filter(|_| !done[i]) {
            out.push(polygon(mesh, &edges, &mut done, i, k));
        }
    }
    // None is left unless a mesh has no rim at all: told all the same.
    for i in 0..done.len() {
        if !done[i] {
            out.push(polygon(mesh, &edges, &mut done, i, 0));
        }
    }
    out
}

fn polygon(mesh: &Mesh, edges: &Edges, done: &mut [bool], first: usize, edge: usize) -> Polygon {
    let mut out = Polygon::default();
    let corner = |i: u32| mesh.corners[i as usize];
    let t = mesh.triangles[first];
    let [a, b, c] = [0, 1, 2].map(|k| t[(edge + k) % 3]);
    done[first] = true;
    out.corners.push(corner(b));
    out.moves.push(false);
    // From b round the apex c back to a: the edge from a to b closes the polygon.
    let mut todo = vec![Todo::Triangle, Todo::Edge(c, a), Todo::Edge(b, c)];
    while let Some(next) = todo.pop() {
        match next {
            Todo::Triangle => out.moves.push(true),
            Todo::Edge(from, to) => match edges.of(to, from).filter(|&n| !done[n]) {
                Some(n) => {
                    done[n] = true;
                    let apex = mesh.triangles[n].into_iter().find(|v| *v != from && *v != to).unwrap_or(to);
                    todo.extend([Todo::Triangle, Todo::Edge(apex, to), Todo::Edge(from, apex)]);
                }
                None => {
                    out.corners.push(corner(to));
                    out.moves.push(false);
                }
            },
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::super::mesh::tests::{asked, blob, piece};
    use super::super::mesh::{Lattice, mesh, meshes};
    use super::*;
    use crate::base::units::{Angle, Mm};
    use crate::make::verify::Verified;
    use crate::read::job::WallPose;
    use proptest::prelude::*;
    use std::io::Read;

    /// As the page reads it.
    fn read(p: &Packed) -> Vec<(usize, [Corner; 3])> {
        let mut all = Vec::new();
        flate2::read::ZlibDecoder::new(&p.bytes[..]).read_to_end(&mut all).expect("a stream");
        let mut rest = all.as_slice();
        let parts = p.parts.map(|n| {
            let (part, left) = rest.split_at(n);
            rest = left;
            part
        });
        let numbers = |part: &[u8]| {
            let (mut out, mut v, mut by) = (Vec::new(), 0u32, 0);
            for b in part {
                v |= u32::from(b & 127) << by;
                by += 7;
                if *b < 128 {
                    out.push(v);
                    (v, by) = (0, 0);
                }
            }
            out
        };
        let (heads, mut bit, mut at, mut here) = (numbers(parts[0]), 0, 0, [0i32; 2]);
        let by =
            [parts[2], parts[3]].map(|p| numbers(p).into_iter().map(|v| (v >> 1) as i32 ^ -((v & 1) as i32)));
        let by = by.map(Iterator::collect::<Vec<i32>>);
        let mut out = Vec::new();
        for head in heads.chunks(2) {
            let (end, mut stack) = (at + head[1] as usize, Vec::<Corner>::new());
            while at < end || stack.len() > 2 {
                let triangle = parts[1][bit / 8] >> (bit % 8) & 1 == 1;
                bit += 1;
                if triangle {
                    let (c, b) = (stack.pop().expect("c"), stack.pop().expect("b"));
                    out.push((head[0] as usize, [*stack.last().expect("a"), b, c]));
                    stack.push(c);
                } else {
                    here = [here[0] + by[0][at], here[1] + by[1][at]];
                    at += 1;
                    stack.push(here);
                }
            }
        }
        assert!(rest.is_empty() && at == by[0].len() && bit.div_ceil(8) == parts[1].len());
        out
    }

    /// The same triangles, whatever their order within a piece and their first corner.
    fn sorted(mut all: Vec<(usize, [Corner; 3])>) -> Vec<(usize, [Corner; 3])> {
        for (_, t) in &mut all {
            let first = (0..3).min_by_key(|&k| t[k]).unwrap_or(0);
            t.rotate_left(first);
        }
        all.sort_unstable();
        all
    }

    fn plain(meshes: &[Mesh]) -> Vec<(usize, [Corner; 3])> {
        let of = |m: &Mesh| {
            m.triangles.iter().map(|t| (m.film, t.map(|i| m.corners[i as usize]))).collect::<Vec<_>>()
        };
        meshes.iter().flat_map(of).collect()
    }

    proptest! {
        #[test]
        fn what_is_packed_is_read_back((d, piece) in asked()) {
            let m = mesh(&piece, &d, Lattice::of(d.frustum())).expect("triangles");
            prop_assert_eq!(sorted(read(&packed(std::slice::from_ref(&m)))), sorted(plain(&[m])));
        }
    }

    /// Films stay in painting order.
    #[test]
    fn a_plan_is_read_back_in_its_order() {
        let all = meshes(&crate::write::sample::plan(180.0, 0.0)).expect("triangles");
        let (got, want) = (read(&packed(&all)), plain(&all));
        let films = |t: &[(usize, [Corner; 3])]| t.iter().map(|t| t.0).collect::<Vec<_>>();
        assert_eq!(films(&got), films(&want));
        assert_eq!(sorted(got), sorted(want));
    }

    /// Truth: Euler's formula. n triangles of a part with h holes have n + 2 - 2 h corners, each hole adds an
    /// edge that is walked twice: n + 2 corners on the walk.
    #[test]
    fn a_walk_has_two_corners_more_than_triangles() {
        let plan = Verified::unchecked(crate::make::plan::sample::plan(&[(0.0, 60.0)]));
        let d = plan.cup().zones[0].development;
        for (holes, n) in
            [(&[][..], 0), (&[(1.0, 0.3)][..], 1), (&[(1.0, 0.2), (3.0, 0.3), (5.0, 0.2)][..], 3)]
        {
            let wall = WallPose { azimuth: Angle::ZERO, slant: Mm(80.0), turn: Angle::ZERO };
            let m = mesh(&piece(blob(&[9.0; 9], holes), wall, &d), &d, Lattice::of(d.frustum()))
                .expect("triangles");
            let walks = polygons(&m);
            assert_eq!(walks.len(), 1);
            assert_eq!(walks[0].corners.len(), m.triangles.len() + 2);
            assert_eq!(m.corners.len(), m.triangles.len() + 2 - 2 * n);
        }
    }
}
