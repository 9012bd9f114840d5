//! What of a drawing's style usvg does not follow, and says nothing of: selectors, units, functions,
//! properties.
//!
//! usvg matches style sheets by CSS 2.1 (no rule within a rule, no `:not()`), takes from them only what was a
//! presentation attribute in SVG 1.1 (no `x`, no `r`), and knows neither variables nor sums. Whatever is
//! beyond that is skipped there; here it is found by the same grammar, and named.
//!
//! Imports: none.

/// Properties that move or bound what is painted.
const PICTURE: [&str; 16] = [
    "fill",
    "stroke",
    "stroke-width",
    "stroke-dasharray",
    "stroke-linecap",
    "stroke-linejoin",
    "display",
    "visibility",
    "opacity",
    "fill-opacity",
    "stroke-opacity",
    "fill-rule",
    "transform",
    "clip-path",
    "mask",
    "filter",
];
/// Attributes of SVG 1.1 that are properties since SVG 2.
const GEOMETRY: [&str; 10] = ["x", "y", "width", "height", "cx", "cy", "r", "rx", "ry", "d"];
/// Values that are lengths, or lists of them.
const LENGTHS: [&str; 20] = [
    "x",
    "y",
    "width",
    "height",
    "cx",
    "cy",
    "r",
    "rx",
    "ry",
    "x1",
    "y1",
    "x2",
    "y2",
    "stroke-width",
    "stroke-dasharray",
    "stroke-dashoffset",
    "markerWidth",
    "markerHeight",
    "refX",
    "refY",
];
/// Properties that move a shape, beside `transform`.
const MOVING: [&str; 5] = ["translate", "rotate", "scale", "offset-path", "transform-box"];
/// States that a still picture is not in, and parts that are no shapes.
const NEVER: [&str; 12] = [
    "hover",
    "active",
    "focus",
    "focus-within",
    "focus-visible",
    "target",
    "visited",
    "link",
    "before",
    "after",
    "selection",
    "placeholder",
];

/// The declarations of a style: each property and its value.
pub fn declarations(style: &str) -> impl DoubleEndedIterator<Item = (&str, &str)> {
    style.split(';').filter_map(|d| d.split_once(':')).map(|(n, v)| (n.trim(), v.trim()))
}

/// A thing that is not followed: what, and why.
pub type Ignored = (&'static str, String);

/// A rule, or a declaration in one, that is not followed: where it begins in the sheet, what, and why.
pub fn sheet(text: &str) -> Vec<(usize, Ignored)> {
    let text = without_comments(text);
    let mut out = Vec::new();
    let mut at = 0;
    while let Some(end) = text[at..].find(['{', ';', '}']).map(|e| at + e) {
        let start = end - text[at..end].trim_start().len();
        let prelude = text[start..end].trim();
        if !text[end..].starts_with('{') {
            at = end + 1;
            continue;
        }
        let close = closing(&text, end);
        let body = &text[end + 1..close];
        if let Some(name) = prelude.strip_prefix('@') {
            if !name.starts_with("font-face") {
                out.push((start, ("style block", format!("@{name} is not followed"))));
            }
        } else {
            rule(prelude, body).into_iter().for_each(|i| out.push((start, i)));
        }
        at = (close + 1).min(text.len());
    }
    out
}

/// The text with its comments blanked, byte for byte.
fn without_comments(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut rest = text;
    while let Some(i) = rest.find("/*") {
        let end = rest[i + 2..].find("*/").map_or(rest.len(), |e| i + e + 4);
        out += &rest[..i];
        out.extend(rest[i..end].bytes().map(|b| if b == b'\n' { '\n' } else { ' ' }));
        rest = &rest[end..];
    }
    out + rest
}

/// Where the bracket that opens at `open` closes; the end of the text if it never does.
fn closing(text: &str, open: usize) -> usize {
    let mut depth = 0;
    for (i, b) in text.bytes().enumerate().skip(open) {
        match b {
            b'{' => depth += 1,
            b'}' => depth -= 1,
            _ => continue,
        }
        if depth == 0 {
            return i;
        }
    }
    text.len()
}

fn rule(selectors: &str, body: &str) -> Vec<Ignored> {
    if body.contains('{') {
        return vec![("style rule", format!("\"{selectors}\" holds other rules, which are not followed"))];
    }
    let declared = || declarations(body);
    let shown = |n: &str| PICTURE.contains(&n) || GEOMETRY.contains(&n) || MOVING.contains(&n);
    let mut out = Vec::new();
    if declared().any(|(n, _)| shown(n))
        && let Some(part) = selectors.split(',').find_map(unknown_part)
    {
        let why = format!("\"{selectors}\" is not followed: {part} is not known here");
        out.push(("style rule", why));
    }
    let root = selectors.split(',').all(|s| matches!(s.trim(), "svg" | ":root"));
    for (name, value) in declared().filter(|(n, _)| !(root && matches!(*n, "width" | "height"))) {
        if let Some((what, why)) = declaration(name, value) {
            out.push((what, format!("{why} (rule \"{selectors}\")")));
        }
        if name == "vector-effect" && value.contains("non-scaling-stroke") {
            let why = format!("the width grows and shrinks with the drawing here (rule \"{selectors}\")");
            out.push(("stroke of fixed width", why));
        }
    }
    out
}

/// What of a selector is beyond the ones that are matched; none if it is matched, or can never match a still
/// picture.
fn unknown_part(selector: &str) -> Option<String> {
    let mut unknown = None;
    for part in selector.split(':').skip(1).filter(|p| !p.is_empty()) {
        let name = part.split(|c: char| !(c.is_ascii_alphanumeric() || c == '-')).next().unwrap_or("");
        if NEVER.contains(&name) {
            return None;
        }
        if !matches!(name, "first-child" | "lang") {
            unknown = unknown.or_else(|| Some(format!(":{name}")));
        }
    }
    let bare = selector.split('[').map(|p| p.split_once(']').map_or(p, |(_, r)| r)).collect::<String>();
    let sign = ["~", "|", "\\", "||"].into_iter().find(|s| bare.contains(s));
    let sign = sign.or_else(|| ["^=", "$=", "*="].into_iter().find(|s| selector.contains(s)));
    unknown.or_else(|| sign.map(|s| format!("\"{s}\"")))
}

/// Why a declaration of a style sheet or of a `style` attribute is not followed, if it is not.
pub fn declaration(name: &str, value: &str) -> Option<Ignored> {
    if GEOMETRY.contains(&name) {
        let why = format!("{name}: {value} is not taken from a style, only from the attribute {name}");
        return Some(("place or size from a style", why));
    }
    if MOVING.contains(&name) && !matches!(value, "none" | "view-box") {
        return Some(("style that moves", format!("{name}: {value} is not followed")));
    }
    attribute(name, value)
}

/// Why the value of a presentation attribute is not followed, if it is not.
pub fn attribute(name: &str, value: &str) -> Option<Ignored> {
    let length = LENGTHS.contains(&name);
    if !length && !PICTURE.contains(&name) && name != "gradientTransform" && name != "patternTransform" {
        return None;
    }
    let says = |why: &str| format!("{name}: {value} {why}");
    if value.contains("var(") {
        return Some(("style variable", says("is not resolved")));
    }
    if ["calc(", "min(", "max(", "clamp(", "env("].iter().any(|f| value.contains(f)) {
        return Some(("calculated value", says("is not worked out")));
    }
    if name.ends_with("ransform") {
        return unread_transform(value).then(|| ("transform of a style", says("is not followed")));
    }
    if name == "clip-path" && value.contains('(') && !value.starts_with("url(") {
        return Some(("clip shape", says("is not followed; the whole shape is cut")));
    }
    if name == "stroke-width" && value.starts_with('-') {
        return Some(("stroke of no width", says("is below nothing: no stroke is cut")));
    }
    if length && let Some(unit) = odd_unit(value) {
        return Some(("unit of length", says(&format!("is in {unit}, which is not measured here"))));
    }
    matches!(value, "unset" | "initial" | "revert" | "revert-layer")
        .then(|| ("style keyword", says("is not followed")))
}

/// The first unit that usvg reads as none, or by rule of thumb (`ex`: it has no font to measure).
fn odd_unit(value: &str) -> Option<&str> {
    let tokens = value.split([' ', ',', '\t', '\n', '\r']).filter(|t| !t.is_empty());
    tokens
        .map(|t| t.trim_start_matches(|c: char| c.is_ascii_digit() || matches!(c, '.' | '+' | '-')))
        .map(|u| {
            u.strip_prefix(['e', 'E'])
                .filter(|r| r.starts_with(|c: char| c.is_ascii_digit() || c == '-'))
                .map_or(u, |r| r.trim_start_matches(|c: char| c.is_ascii_digit() || c == '-'))
        })
        .find(|u| {
            let word = u.starts_with(|c: char| c.is_ascii_alphabetic());
            let known = ["", "px", "em", "in", "cm", "mm", "pt", "pc", "none", "auto", "inherit"];
            word && !known.contains(u)
        })
}

/// Is it none of the transforms of SVG 1.1, or with units?
fn unread_transform(value: &str) -> bool {
    let known = ["matrix", "translate", "scale", "rotate", "skewX", "skewY", "none", "inherit", "e", "E"];
    let mut words = value.split(|c: char| !c.is_ascii_alphabetic()).filter(|w| !w.is_empty());
    words.any(|w| !known.contains(&w)) || value.contains("matrix3d") || value.contains('%')
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_followed_is_not_listed() {
        for text in [
            ".a,.b>path{fill:#f00;stroke:none}/* g{rect{}} :not(x){fill:none} */#c \
                rect:first-child{stroke-width:.5mm}",
            "a:hover{fill:red} svg{width:100%} rect[id='x']{opacity:.5}",
            ".t{transform:translate(3,4) rotate(20)} .u{stroke-dasharray:1e-3 2px,3;clip-path:url(#c)}",
            ":root{--a:1} .f{font-family:'Calc (1)';letter-spacing:1rem}",
        ] {
            assert_eq!(sheet(text), [], "{text}");
        }
    }

    #[test]
    fn what_is_skipped_is_listed_where_it_begins() {
        for (text, at, what) in [
            ("/*\n*/ rect:nth-of-type(2){display:none}", 6, "style rule"),
            ("g{rect{fill:none}}", 0, "style rule"),
            ("@media print{rect{fill:none}}", 0, "style block"),
            (".a{x:4px}", 0, "place or size from a style"),
            (".a{fill:var(--c)}", 0, "style variable"),
            (".a{transform:translate(30px,30px)}", 0, "transform of a style"),
            (".a{transform:rotateZ(3)}", 0, "transform of a style"),
            (".a{scale:2}", 0, "style that moves"),
            ("a ~ b{fill:none}", 0, "style rule"),
            (".a{stroke-width:.5rem}", 0, "unit of length"),
            (".a{stroke-width:-20}", 0, "stroke of no width"),
            (".a{stroke-width:calc(1px + 2px)}", 0, "calculated value"),
            (".a{clip-path:circle(10px)}", 0, "clip shape"),
        ] {
            let got = sheet(text);
            assert!(got.len() == 1 && got[0].0 == at && got[0].1.0 == what, "{text}: {got:?}");
        }
    }
}
