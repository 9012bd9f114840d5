//! A small lexer of Rust: enough to see names and paths, and to pass over comments, strings and tests.

/// Names and single marks; comments, strings, characters and lifetimes fall away.
pub fn lex(text: &str) -> Vec<String> {
    let c: Vec<char> = text.chars().collect();
    let mut out = Vec::new();
    let mut i = 0;
    while i < c.len() {
        let rest = |n: usize| c.get(i + n).copied().unwrap_or('\0');
        if c[i].is_whitespace() {
            i += 1;
        } else if c[i] == '/' && rest(1) == '/' {
            while i < c.len() && c[i] != '\n' {
                i += 1;
            }
        } else if c[i] == '/' && rest(1) == '*' {
            i = skip_block(&c, i);
        } else if c[i] == 'r' && (rest(1) == '"' || (rest(1) == '#' && (rest(2) == '"' || rest(2) == '#'))) {
            i = skip_raw(&c, i + 1);
        } else if c[i] == '"' {
            i = skip_string(&c, i);
        } else if c[i] == '\'' {
            i = skip_char(&c, i);
        } else if c[i].is_alphanumeric() || c[i] == '_' {
            let from = i;
            while i < c.len() && (c[i].is_alphanumeric() || c[i] == '_') {
                i += 1;
            }
            out.push(c[from..i].iter().collect());
        } else {
            out.push(c[i].to_string());
            i += 1;
        }
    }
    out
}

fn skip_block(c: &[char], mut i: usize) -> usize {
    let mut depth = 0;
    while i < c.len() {
        match (c[i], c.get(i + 1)) {
            ('/', Some('*')) => (depth, i) = (depth + 1, i + 2),
            ('*', Some('/')) => {
                (depth, i) = (depth - 1, i + 2);
                if depth == 0 {
                    return i;
                }
            }
            _ => i += 1,
        }
    }
    i
}

fn skip_string(c: &[char], mut i: usize) -> usize {
    i += 1;
    while i < c.len() && c[i] != '"' {
        i += if c[i] == '\\' { 2 } else { 1 };
    }
    i + 1
}

fn skip_raw(c: &[char], mut i: usize) -> usize {
    let mut hashes = 0;
    while c[i] == '#' {
        (hashes, i) = (hashes + 1, i + 1);
    }
    i += 1;
    while i < c.len() {
        if c[i] == '"' && c[i + 1..].iter().take(hashes).filter(|h| **h == '#').count() == hashes {
            return i + 1 + hashes;
        }
        i += 1;
    }
    i
}

fn skip_char(c: &[char], i: usize) -> usize {
    if c.get(i + 1) == Some(&'\\') {
        let mut j = i + 3;
        while j < c.len() && c[j] != '\'' {
            j += 1;
        }
        return j + 1;
    }
    if c.get(i + 2) == Some(&'\'') { i + 3 } else { i + 1 }
}

/// Cuts off `#[cfg(test)] mod tests { ... }`, which stands last by custom.
pub fn without_tests(mut tokens: Vec<String>) -> Vec<String> {
    let starts =
        |w: &[String]| w[..7] == ["#", "[", "cfg", "(", "test", ")", "]"] && w[7] == "mod" && w[9] == "{";
    if let Some(cut) = tokens.windows(10).position(starts) {
        tokens.truncate(cut);
    }
    tokens
}

#[test]
fn the_lexer_sees_code_and_not_comments() {
    let t = lex(
        "use std::fs; // std::net\n/* a /* b */ std::env */ \"std::time\" r#\"std::x\"# 'c' '\\'' &'a str",
    );
    assert_eq!(t.iter().filter(|t| *t == "std").count(), 1);
    assert!(t.contains(&"str".to_owned()));
}
