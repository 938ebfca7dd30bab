//! Places in a scenario's text, for messages: the line of a setting whose value parses but makes no sense, and
//! the place at which brackets nest too deeply for any scenario.

/// Line (from 1) on which the dotted `path` is set in RON `text`, if it is set there.
///
/// Elements of a list are named by their number from 1: `site.patches.2.patch.stems`.
#[must_use]
pub fn line_of(text: &str, path: &str) -> Option<usize> {
    let wanted: Vec<&str> = path.split('.').collect();
    let mut scanner = Scanner::of(text);
    let mut open: Vec<Open> = Vec::new();
    let mut pending = String::new();
    let mut last_word = (String::new(), 1);
    while let Some(token) = scanner.next_token() {
        match token {
            Token::Word(word, line) => last_word = (word, line),
            Token::Mark(b':') => {
                pending.clone_from(&last_word.0);
                if is_at(&open, &pending, &wanted) {
                    return Some(last_word.1);
                }
            }
            Token::Mark(mark @ (b'(' | b'[' | b'{')) => {
                let name = match open.last_mut() {
                    Some(list) if list.is_list && pending.is_empty() => {
                        list.elements += 1;
                        list.elements.to_string()
                    }
                    _ => std::mem::take(&mut pending),
                };
                if is_element(&open, &name, &wanted) {
                    return Some(scanner.line);
                }
                open.push(Open {
                    name,
                    is_list: mark == b'[',
                    elements: 0,
                });
            }
            Token::Mark(b')' | b']' | b'}') => {
                open.pop();
                pending.clear();
            }
            Token::Mark(b',') => pending.clear(),
            Token::Mark(_) => {}
        }
    }
    None
}

/// A bracket that is open, and what it is the value of.
struct Open {
    name: String,
    is_list: bool,
    elements: usize,
}

/// Whether `name` inside the open brackets is the wanted path. Brackets without a name, such as the outermost,
/// do not count.
fn is_at(open: &[Open], name: &str, wanted: &[&str]) -> bool {
    let named = || {
        open.iter()
            .map(|bracket| bracket.name.as_str())
            .filter(|name| !name.is_empty())
    };
    let depth = named().count();
    depth + 1 == wanted.len()
        && name == wanted[depth]
        && named().zip(wanted).all(|(have, want)| have == *want)
}

fn is_element(open: &[Open], name: &str, wanted: &[&str]) -> bool {
    open.last().is_some_and(|bracket| bracket.is_list) && is_at(open, name, wanted)
}

/// Line and column (from 1) of the first bracket that nests more than `deepest` levels deep, outside strings and
/// comments.
#[must_use]
pub fn too_deep(text: &str, deepest: usize) -> Option<(usize, usize)> {
    let mut scanner = Scanner::of(text);
    let mut depth = 0usize;
    while let Some(token) = scanner.next_token() {
        match token {
            Token::Mark(b'(' | b'[' | b'{') => {
                depth += 1;
                if depth > deepest {
                    return Some((scanner.line, scanner.column()));
                }
            }
            Token::Mark(b')' | b']' | b'}') => depth = depth.saturating_sub(1),
            _ => {}
        }
    }
    None
}

/// Whether every bracket in a piece of text is opened and closed within it.
#[must_use]
pub fn is_balanced(text: &str) -> bool {
    let mut scanner = Scanner::of(text);
    let mut depth = 0usize;
    while let Some(token) = scanner.next_token() {
        match token {
            Token::Mark(b'(' | b'[' | b'{') => depth += 1,
            Token::Mark(b')' | b']' | b'}') => match depth.checked_sub(1) {
                Some(less) => depth = less,
                None => return false,
            },
            _ => {}
        }
    }
    depth == 0
}

enum Token {
    Word(String, usize),
    Mark(u8),
}

struct Scanner<'a> {
    bytes: &'a [u8],
    at: usize,
    line: usize,
    line_from: usize,
}

impl<'a> Scanner<'a> {
    fn of(text: &'a str) -> Self {
        Self {
            bytes: text.as_bytes(),
            at: 0,
            line: 1,
            line_from: 0,
        }
    }

    /// Column of the mark that was read last.
    fn column(&self) -> usize {
        let before = &self.bytes[self.line_from..self.at];
        String::from_utf8_lossy(before).chars().count()
    }

    fn next_token(&mut self) -> Option<Token> {
        loop {
            let byte = *self.bytes.get(self.at)?;
            let after = self.bytes.get(self.at + 1);
            match byte {
                b'/' if after == Some(&b'/') => self.skip_line(),
                b'/' if after == Some(&b'*') => self.skip_block(),
                b'"' => self.skip_string(),
                b'r' if matches!(after, Some(b'"' | b'#')) && self.skip_raw_string() => {}
                b'a'..=b'z' | b'A'..=b'Z' | b'_' => return Some(self.word()),
                b'(' | b')' | b'[' | b']' | b'{' | b'}' | b':' | b',' => {
                    self.step();
                    return Some(Token::Mark(byte));
                }
                _ => self.step(),
            }
        }
    }

    fn step(&mut self) {
        if self.bytes.get(self.at) == Some(&b'\n') {
            self.line += 1;
            self.line_from = self.at + 1;
        }
        self.at += 1;
    }

    fn word(&mut self) -> Token {
        let start = self.at;
        while self
            .bytes
            .get(self.at)
            .is_some_and(|b| b.is_ascii_alphanumeric() || *b == b'_')
        {
            self.at += 1;
        }
        let word = String::from_utf8_lossy(&self.bytes[start..self.at]).into_owned();
        Token::Word(word, self.line)
    }

    fn skip_line(&mut self) {
        while self.bytes.get(self.at).is_some_and(|b| *b != b'\n') {
            self.at += 1;
        }
    }

    /// Block comments nest in RON.
    fn skip_block(&mut self) {
        let mut depth = 0usize;
        while let Some(rest) = self.bytes.get(self.at..).filter(|rest| !rest.is_empty()) {
            let mark = rest.starts_with(b"/*") || rest.starts_with(b"*/");
            if rest.starts_with(b"/*") {
                depth += 1;
            } else if rest.starts_with(b"*/") {
                depth -= 1;
            }
            self.step();
            if mark {
                self.step();
            }
            if depth == 0 {
                return;
            }
        }
    }

    fn skip_string(&mut self) {
        self.step();
        while let Some(byte) = self.bytes.get(self.at).copied() {
            self.step();
            match byte {
                b'\\' => self.step(),
                b'"' => break,
                _ => {}
            }
        }
    }

    /// Skips `r"..."` or `r#"..."#`; false when it is no string but a name such as `r#type`.
    fn skip_raw_string(&mut self) -> bool {
        let rest = &self.bytes[self.at + 1..];
        let hashes = rest.iter().take_while(|byte| **byte == b'#').count();
        if rest.get(hashes) != Some(&b'"') {
            return false;
        }
        let end = [b"\"".as_slice(), &rest[..hashes]].concat();
        for _ in 0..hashes + 2 {
            self.step();
        }
        while self.at < self.bytes.len() && !self.bytes[self.at..].starts_with(&end) {
            self.step();
        }
        for _ in 0..end.len() {
            self.step();
        }
        true
    }
}
