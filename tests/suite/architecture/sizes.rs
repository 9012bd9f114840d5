//! Sizes of functions: lines and arguments, so that each can be seen at once.

/// Longest function, lines; most arguments, `self` counted.
pub const LINES: usize = 80;
pub const ARGUMENTS: usize = 6;

/// A function as it stands in a source.
#[derive(Debug, PartialEq)]
pub struct Function {
    pub name: String,
    pub lines: usize,
    pub arguments: usize,
}

/// The functions of a formatted source: each ends at the brace that stands as far in as its first word.
pub fn functions(text: &str) -> Vec<Function> {
    let lines: Vec<&str> = text.lines().collect();
    let mut out = Vec::new();
    for (i, line) in lines.iter().enumerate() {
        let start = line.trim_start();
        let indent = &line[..line.len() - start.len()];
        let words: Vec<&str> = start.split(' ').collect();
        let head = words.iter().take(5).position(|w| *w == "fn");
        let Some(f) = head.filter(|f| {
            words[..*f]
                .iter()
                .all(|w| w.starts_with("pub") || ["const", "in"].contains(w) || w.ends_with(')'))
        }) else {
            continue;
        };
        let rest = words[f + 1..].join(" ");
        let name: String = rest.chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect();
        let body = (i..lines.len()).find(|j| lines[*j].ends_with('{') || lines[*j].ends_with([';', '}']));
        let Some(body) = body.filter(|b| !lines[*b].ends_with(';')) else { continue };
        let end = if lines[body].ends_with('}') {
            body
        } else {
            let close = format!("{indent}}}");
            (body..lines.len()).find(|j| lines[*j] == close).unwrap_or(body)
        };
        out.push(Function { name, lines: end - i + 1, arguments: arguments(&lines[i..=body].join(" ")) });
    }
    out
}

/// Arguments of a function's head, generics left out.
fn arguments(head: &str) -> usize {
    let mut depth = 0_i32;
    let mut angles = 0_i32;
    let (mut count, mut begun, mut inside) = (0, false, false);
    let mut last = ' ';
    let head = head.split_once("fn ").map_or(head, |(_, h)| h);
    for c in head.chars() {
        match c {
            '<' => angles += 1,
            '>' if last != '-' => angles -= 1,
            '(' if angles == 0 && !inside => inside = true,
            '(' | '[' | '{' if inside => depth += 1,
            ')' if inside && depth == 0 => return count + usize::from(begun),
            ')' | ']' | '}' if inside => depth -= 1,
            ',' if inside && depth == 0 && angles == 0 => {
                count += usize::from(begun);
                begun = false;
            }
            c if inside && !c.is_whitespace() => begun = true,
            _ => {}
        }
        last = c;
    }
    count
}

#[test]
fn functions_are_measured() {
    let text = "impl A {\n    pub(super) fn a<'r, T: Fn(u8) -> u8>(\n        &self,\n        b: (f64, \
        f64),\n        c: Vec<(u8, u8)>,\n    ) -> u8 {\n        0\n    }\n    fn b() -> u8;\n    fn c(x: \
        u8) {}\n}\n";
    let f = |name: &str, lines, arguments| Function { name: name.into(), lines, arguments };
    assert_eq!(functions(text), [f("a", 7, 3), f("c", 1, 1)]);
}
