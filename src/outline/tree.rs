//! A tree of boxes over straight edges that answers what is near; knows edges by number only.
//!
//! Imports: none.

/// Start and end of an edge: x, y, x, y.
pub(super) type Span = [f64; 4];

/// Edges sorted into boxes of boxes, halved at the median of the longer side.
#[derive(Clone, Debug, Default)]
pub(super) struct Tree {
    spans: Vec<Span>,
    /// The number that each span had when the tree was built.
    ids: Vec<u32>,
    nodes: Vec<Node>,
}

#[derive(Clone, Copy, Debug)]
struct Node {
    bounds: Span,
    /// Leaf: first edge; branch: index of the second child (the first follows directly).
    link: u32,
    /// Number of edges of a leaf; 0 for a branch.
    count: u32,
}

/// A place on an edge.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Hit {
    /// Square of the distance.
    pub(super) d2: f64,
    pub(super) x: f64,
    pub(super) y: f64,
    /// Number of the edge.
    pub(super) id: u32,
}

const LEAF: usize = 6;
/// Deeper than any tree of 2^32 edges halved down to leaves, with one sibling a level.
const DEEP: usize = 64;

impl Tree {
    pub(super) fn new(spans: Vec<Span>) -> Tree {
        let n = spans.len();
        // Middle and number of each edge: what is shuffled while boxes are made.
        let mut keys: Vec<([f64; 2], u32)> =
            spans.iter().enumerate().map(|(i, e)| ([e[0] + e[2], e[1] + e[3]], i as u32)).collect();
        let mut nodes = Vec::with_capacity(n / 2 + 1);
        if n > 0 {
            build(&spans, &mut keys, 0, &mut nodes);
        }
        let ids: Vec<u32> = keys.into_iter().map(|k| k.1).collect();
        Tree { spans: ids.iter().map(|&i| spans[i as usize]).collect(), ids, nodes }
    }
    /// The same edges, each end put elsewhere: the tree keeps its shape and boxes them anew, which costs far
    /// less than sorting them again. Good boxes where the edges keep their places among each other, as when
    /// all are turned.
    pub(super) fn moved(&self, put: impl Fn([f64; 2]) -> [f64; 2]) -> Tree {
        let spans: Vec<Span> = self
            .spans
            .iter()
            .map(|e| {
                let (a, b) = (put([e[0], e[1]]), put([e[2], e[3]]));
                [a[0], a[1], b[0], b[1]]
            })
            .collect();
        let mut nodes = self.nodes.clone();
        // Children follow their parents in the list.
        for i in (0..nodes.len()).rev() {
            let Node { link, count, .. } = nodes[i];
            nodes[i].bounds = if count > 0 {
                let own = &spans[link as usize..(link + count) as usize];
                own.iter().map(edge_box).reduce(|a, b| box_join(&a, &b)).unwrap_or(nodes[i].bounds)
            } else {
                box_join(&nodes[i + 1].bounds, &nodes[link as usize].bounds)
            };
        }
        Tree { spans, ids: self.ids.clone(), nodes }
    }
    /// The box around everything.
    pub(super) fn bounds(&self) -> Option<Span> {
        self.nodes.first().map(|n| n.bounds)
    }
    /// The nearest place, if the square of its distance is below `within2`, among edges not to be skipped.
    #[inline]
    pub(super) fn nearest(&self, x: f64, y: f64, within2: f64, skip: impl Fn(u32) -> bool) -> Option<Hit> {
        let mut best = Hit { d2: within2, x, y, id: u32::MAX };
        let mut stack = [(0f64, 0u32); DEEP];
        let mut top = 0;
        if let Some(root) = self.nodes.first() {
            stack[0] = (box_point2(&root.bounds, x, y), 0);
            top = 1;
        }
        while top > 0 {
            top -= 1;
            let (far, i) = stack[top];
            if far >= best.d2 {
                continue;
            }
            let node = &self.nodes[i as usize];
            if node.count > 0 {
                let range = node.link as usize..(node.link + node.count) as usize;
                for (e, &id) in self.spans[range.clone()].iter().zip(&self.ids[range]) {
                    let (d2, px, py) = edge_point2(e, x, y);
                    if d2 < best.d2 && !skip(id) {
                        best = Hit { d2, x: px, y: py, id };
                    }
                }
                continue;
            }
            let (l, r) = (i + 1, node.link);
            let dl = box_point2(&self.nodes[l as usize].bounds, x, y);
            let dr = box_point2(&self.nodes[r as usize].bounds, x, y);
            let (near, far) = if dl < dr { ((dl, l), (dr, r)) } else { ((dr, r), (dl, l)) };
            if far.0 < best.d2 {
                stack[top] = far;
                top += 1;
            }
            if near.0 < best.d2 {
                stack[top] = near;
                top += 1;
            }
        }
        (best.id != u32::MAX).then_some(best)
    }
    /// Calls `look` for every span whose box is nearer to a box than the square root of `within2`, nearer
    /// ones first where that is cheap; it is given the square in force and answers with the one to go on
    /// with.
    pub(super) fn visit(&self, b: &Span, within2: f64, mut look: impl FnMut(u32, f64) -> f64) {
        let mut best = within2;
        let mut stack = [(0f64, 0u32); DEEP];
        let mut top = usize::from(!self.nodes.is_empty());
        if let Some(root) = self.nodes.first() {
            stack[0] = (box_box2(&root.bounds, b), 0);
        }
        while top > 0 {
            top -= 1;
            let (far, i) = stack[top];
            if far >= best {
                continue;
            }
            let node = &self.nodes[i as usize];
            if node.count > 0 {
                let range = node.link as usize..(node.link + node.count) as usize;
                for (e, &id) in self.spans[range.clone()].iter().zip(&self.ids[range]) {
                    if box_box2(&edge_box(e), b) < best {
                        best = look(id, best);
                    }
                }
                continue;
            }
            let mut pair = [i + 1, node.link].map(|k| (box_box2(&self.nodes[k as usize].bounds, b), k));
            if pair[0].0 < pair[1].0 {
                pair.swap(0, 1);
            }
            stack[top..top + 2].copy_from_slice(&pair);
            top += 2;
        }
    }
    /// How often a ray to the right of a point crosses the edges, odd or even: inside, for closed rings.
    pub(super) fn odd(&self, x: f64, y: f64) -> bool {
        let mut inside = false;
        let mut stack = [0u32; DEEP];
        let mut top = usize::from(!self.nodes.is_empty());
        while top > 0 {
            top -= 1;
            let i = stack[top];
            let node = &self.nodes[i as usize];
            let b = &node.bounds;
            // Half open upwards, as the crossing test is.
            if y < b[1] || y >= b[3] || x >= b[2] {
                continue;
            }
            if node.count > 0 {
                for e in &self.spans[node.link as usize..(node.link + node.count) as usize] {
                    if (e[1] > y) != (e[3] > y) && x < (e[2] - e[0]) * (y - e[1]) / (e[3] - e[1]) + e[0] {
                        inside = !inside;
                    }
                }
            } else {
                stack[top] = node.link;
                stack[top + 1] = i + 1;
                top += 2;
            }
        }
        inside
    }
    /// Square of the distance of one edge, its ends put elsewhere as [`Tree::moved`] would, from one of
    /// another tree; both by where they stand in the trees.
    pub(super) fn pair2(
        &self,
        (i, j): (u32, u32),
        put: impl Fn([f64; 2]) -> [f64; 2],
        other: &Tree,
    ) -> Option<f64> {
        let (e, f) = (self.spans.get(i as usize)?, other.spans.get(j as usize)?);
        let (a, b) = (put([e[0], e[1]]), put([e[2], e[3]]));
        Some(edge_edge2(&[a[0], a[1], b[0], b[1]], f))
    }
    /// Square of the least distance between the edges of two trees, if below `within2`; 0 where edges cross.
    /// `hint` is where two edges that may be near stand in the trees, such as the nearest before one of the
    /// trees was moved a little; it becomes the nearest pair. A good one saves most of the search and none
    /// changes what is found.
    pub(super) fn apart(&self, other: &Tree, within2: f64, hint: &mut Option<(u32, u32)>) -> Option<f64> {
        let (a, b) = (self.nodes.first()?, other.nodes.first()?);
        let mut best = within2;
        if let Some((i, j)) = *hint
            && let (Some(e), Some(f)) = (self.spans.get(i as usize), other.spans.get(j as usize))
        {
            best = best.min(edge_edge2(e, f));
        }
        let mut stack = Vec::with_capacity(64);
        stack.push((box_box2(&a.bounds, &b.bounds), 0u32, 0u32));
        while let Some((far, i, j)) = stack.pop() {
            if far >= best {
                continue;
            }
            let (a, b) = (&self.nodes[i as usize], &other.nodes[j as usize]);
            if a.count > 0 && b.count > 0 {
                for i in a.link..a.link + a.count {
                    let e = &self.spans[i as usize];
                    let eb = edge_box(e);
                    if box_box2(&eb, &b.bounds) >= best {
                        continue;
                    }
                    for j in b.link..b.link + b.count {
                        let f = &other.spans[j as usize];
                        if box_box2(&eb, &edge_box(f)) < best {
                            let d = edge_edge2(e, f);
                            if d < best {
                                (best, *hint) = (d, Some((i, j)));
                            }
                        }
                    }
                }
                if best == 0.0 {
                    break;
                }
                continue;
            }
            let split_a = b.count > 0 || (a.count == 0 && size(&a.bounds) > size(&b.bounds));
            let pairs = if split_a { [(i + 1, j), (a.link, j)] } else { [(i, j + 1), (i, b.link)] };
            let far =
                pairs.map(|(p, q)| box_box2(&self.nodes[p as usize].bounds, &other.nodes[q as usize].bounds));
            // The nearer pair first: it is taken from the top.
            let order = if far[0] < far[1] { [1, 0] } else { [0, 1] };
            for k in order {
                if far[k] < best {
                    stack.push((far[k], pairs[k].0, pairs[k].1));
                }
            }
        }
        (best < within2).then_some(best)
    }
}

fn build(spans: &[Span], keys: &mut [([f64; 2], u32)], from: usize, nodes: &mut Vec<Node>) {
    let mut bounds = [f64::INFINITY, f64::INFINITY, f64::NEG_INFINITY, f64::NEG_INFINITY];
    for k in keys.iter() {
        let e = &spans[k.1 as usize];
        bounds[0] = bounds[0].min(e[0].min(e[2]));
        bounds[1] = bounds[1].min(e[1].min(e[3]));
        bounds[2] = bounds[2].max(e[0].max(e[2]));
        bounds[3] = bounds[3].max(e[1].max(e[3]));
    }
    let me = nodes.len();
    nodes.push(Node { bounds, link: from as u32, count: keys.len() as u32 });
    if keys.len() <= LEAF {
        return;
    }
    let axis = usize::from(bounds[3] - bounds[1] > bounds[2] - bounds[0]);
    let mid = keys.len() / 2;
    keys.select_nth_unstable_by(mid, |p, q| p.0[axis].total_cmp(&q.0[axis]).then(p.1.cmp(&q.1)));
    let (left, right) = keys.split_at_mut(mid);
    build(spans, left, from, nodes);
    let second = nodes.len() as u32;
    build(spans, right, from + mid, nodes);
    nodes[me] = Node { bounds, link: second, count: 0 };
}

#[inline]
fn size(b: &Span) -> f64 {
    (b[2] - b[0]).max(b[3] - b[1])
}
#[inline]
fn box_point2(b: &Span, x: f64, y: f64) -> f64 {
    let dx = (b[0] - x).max(x - b[2]).max(0.0);
    let dy = (b[1] - y).max(y - b[3]).max(0.0);
    dx * dx + dy * dy
}
#[inline]
pub(super) fn box_box2(a: &Span, b: &Span) -> f64 {
    let dx = (b[0] - a[2]).max(a[0] - b[2]).max(0.0);
    let dy = (b[1] - a[3]).max(a[1] - b[3]).max(0.0);
    dx * dx + dy * dy
}
#[inline]
fn box_join(a: &Span, b: &Span) -> Span {
    [a[0].min(b[0]), a[1].min(b[1]), a[2].max(b[2]), a[3].max(b[3])]
}
#[inline]
fn edge_box(e: &Span) -> Span {
    [e[0].min(e[2]), e[1].min(e[3]), e[0].max(e[2]), e[1].max(e[3])]
}
/// Square of the distance from a point to an edge, and the place on it.
#[inline]
pub(super) fn edge_point2(e: &Span, x: f64, y: f64) -> (f64, f64, f64) {
    let (ux, uy) = (e[2] - e[0], e[3] - e[1]);
    let len2 = ux * ux + uy * uy;
    let t = if len2 > 0.0 { (((x - e[0]) * ux + (y - e[1]) * uy) / len2).clamp(0.0, 1.0) } else { 0.0 };
    let (px, py) = (e[0] + t * ux, e[1] + t * uy);
    ((px - x) * (px - x) + (py - y) * (py - y), px, py)
}
/// Square of the distance between two edges; 0 where they cross.
pub(super) fn edge_edge2(e: &Span, f: &Span) -> f64 {
    let side =
        |ax: f64, ay: f64, bx: f64, by: f64, px: f64, py: f64| (bx - ax) * (py - ay) - (by - ay) * (px - ax);
    let s1 = side(e[0], e[1], e[2], e[3], f[0], f[1]);
    let s2 = side(e[0], e[1], e[2], e[3], f[2], f[3]);
    let s3 = side(f[0], f[1], f[2], f[3], e[0], e[1]);
    let s4 = side(f[0], f[1], f[2], f[3], e[2], e[3]);
    if ((s1 > 0.0) != (s2 > 0.0))
        && ((s3 > 0.0) != (s4 > 0.0))
        && s1 * s2 <= 0.0
        && s3 * s4 <= 0.0
        && (s1 != 0.0 || s2 != 0.0)
    {
        return 0.0;
    }
    edge_point2(e, f[0], f[1])
        .0
        .min(edge_point2(e, f[2], f[3]).0)
        .min(edge_point2(f, e[0], e[1]).0)
        .min(edge_point2(f, e[2], e[3]).0)
}
