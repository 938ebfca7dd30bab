//! Finds the line of a setting in a scenario's text, for messages about values that parse but make no sense.

/// Line (from 1) on which the dotted `path` is set in RON `text`, if it is set there.
#[must_use]
pub fn line_of(text: &str, path: &str) -> Option<usize> {
    let wanted: Vec<&str> = path.split('.').collect();
    let mut scanner = Scanner {
        bytes: text.as_bytes(),
        at: 0,
        line: 1,
    };
    let mut open: Vec<String> = Vec::new();
    let mut pending = String::new();
    let mut last_word = (String::new(), 1);
    while let Some(token) = scanner.next_token() {
        match token {
            Token::Word(word, line) => last_word = (word, line),
            Token::Mark(b':') => {
                pending = last_word.0.clone();
                let depth = open.iter().filter(|name| !name.is_empty()).count();
                if depth + 1 == wanted.len()
                    && pending == wanted[depth]
                    && open
                        .iter()
                        .filter(|name| !name.is_empty())
                        .zip(&wanted)
                        .all(|(have, want)| have == want)
                {
                    return Some(last_word.1);
                }
            }
            Token::Mark(b'(' | b'[' | b'{') => open.push(std::mem::take(&mut pending)),
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

enum Token {
    Word(String, usize),
    Mark(u8),
}

struct Scanner<'a> {
    bytes: &'a [u8],
    at: usize,
    line: usize,
}

impl Scanner<'_> {
    fn next_token(&mut self) -> Option<Token> {
        loop {
            let byte = *self.bytes.get(self.at)?;
            match byte {
                b'\n' => {
                    self.line += 1;
                    self.at += 1;
                }
                b'/' if self.bytes.get(self.at + 1) == Some(&b'/') => self.skip_line(),
                b'/' if self.bytes.get(self.at + 1) == Some(&b'*') => self.skip_block(),
                b'"' => self.skip_string(),
                b'a'..=b'z' | b'A'..=b'Z' | b'_' => return Some(self.word()),
                b'(' | b')' | b'[' | b']' | b'{' | b'}' | b':' | b',' => {
                    self.at += 1;
                    return Some(Token::Mark(byte));
                }
                _ => self.at += 1,
            }
        }
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

    fn skip_block(&mut self) {
        self.at += 2;
        while self.at < self.bytes.len() && !self.bytes[self.at..].starts_with(b"*/") {
            self.line += usize::from(self.bytes[self.at] == b'\n');
            self.at += 1;
        }
        self.at += 2;
    }

    fn skip_string(&mut self) {
        self.at += 1;
        while let Some(byte) = self.bytes.get(self.at) {
            self.at += 1;
            match byte {
                b'\\' => self.at += 1,
                b'\n' => self.line += 1,
                b'"' => break,
                _ => {}
            }
        }
    }
}
