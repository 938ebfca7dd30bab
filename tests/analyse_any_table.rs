//! Whatever a table holds, reading it ends in an answer or in a fault that is told, never in a panic.

use crawlspan::output::analysis::{self, Analysis};
use crawlspan::output::analysis_text;
use crawlspan::stats::paired::{Estimator, PairedOptions};
use crawlspan::study::analyse::{
    Comparison, CountedStage, Question, cautions, compare_sites, prepare, read_counts,
};
use rand::{Rng, RngExt, SeedableRng};
use rand_xoshiro::Xoshiro256PlusPlus;

const CASES: u64 = 2000;
/// Columns of the terminal.
const COLUMNS: usize = 80;

/// A sound table with halves, comments, quotes, dates and gaps.
const SOUND: &str = "site,replicate,week,patch,half,condition,stage,count,stems,stems_date,cut_date\n\
    # a comment\n\
    \"Lower, Tansey\",1,1,treated,cut,fresh,L5,3,12,2026-06-28,2026-07-01\n\
    \"Lower, Tansey\",1,1,treated,refuge,mature,L5,1,10,2026-06-28,2026-07-01\n\
    \"Lower, Tansey\",1,1,untouched,,mature,L5,2,25,2026-06-28,2026-07-01\n\
    \"Lower, Tansey\",1,2,treated,cut,fresh,L5,0,12,,\n\
    \"Lower, Tansey\",1,2,treated,refuge,mature,L5,,10,,\n\
    \"Lower, Tansey\",1,2,untouched,,mature,egg,2,25,,\n\
    Tansey Bank,2,1,treated,whole,,L5,5,20,,\n\
    Tansey Bank,2,1,untouched,whole,,L5,0,21,,\n\
    Tansey Bank,2,1,treated,whole,,egg,NA,20,,\n\
    Tansey Foot,3,1,treated,whole,,L5,0,18,,\n\
    Tansey Foot,3,1,untouched,whole,,L5,1,14,,\n";

/// Pieces that are likely to hurt.
const PIECES: [&str; 26] = [
    "\"",
    "\"\"",
    ",",
    ";",
    "\t",
    "\n",
    "\r",
    "\r\n",
    "#",
    "-1",
    "1.5",
    "1e308",
    "NaN",
    "inf",
    "999999",
    "0",
    "4294967296",
    "NA",
    "\u{feff}",
    "\u{1b}[2J",
    "ñ",
    "treated",
    "L5",
    "eggs",
    "2026-13-40",
    "site",
];

fn mutated(random: &mut Xoshiro256PlusPlus) -> Vec<u8> {
    let mut bytes = SOUND.as_bytes().to_vec();
    for _ in 0..random.random_range(1..6) {
        let at = random.random_range(0..bytes.len().max(1)).min(bytes.len());
        let to = (at + random.random_range(0..20)).min(bytes.len());
        match random.random_range(0..6) {
            0 => {
                let piece = PIECES[random.random_range(0..PIECES.len())];
                bytes.splice(at..at, piece.bytes());
            }
            1 => {
                let piece = PIECES[random.random_range(0..PIECES.len())];
                bytes.splice(at..to, piece.bytes());
            }
            2 => {
                bytes.drain(at..to);
            }
            3 => {
                let again = bytes[at..to].to_vec();
                bytes.splice(to..to, again);
            }
            4 => bytes.truncate(at.max(1)),
            _ => {
                if let Some(byte) = bytes.get_mut(at) {
                    *byte = (random.next_u32() & 0xff) as u8;
                }
            }
        }
    }
    bytes
}

/// Cells swapped for pieces: rows stay rows, so that most tables get past the first checks.
fn with_other_cells(random: &mut Xoshiro256PlusPlus) -> Vec<u8> {
    let mut rows: Vec<Vec<String>> = SOUND
        .lines()
        .map(|line| {
            line.replace("Lower, ", "")
                .split(',')
                .map(str::to_owned)
                .collect()
        })
        .collect();
    for _ in 0..random.random_range(1..3) {
        let row = random.random_range(0..rows.len());
        let cell = random.random_range(0..rows[row].len());
        let other = random.random_range(0..rows.len());
        let piece = match rows[other].get(cell) {
            // A cell of the same column, which is often plausible, or a piece that never is.
            Some(same) if other > 1 && random.random() => same.clone(),
            _ => PIECES[random.random_range(0..PIECES.len())].to_owned(),
        };
        rows[row][cell] = piece;
    }
    let lines: Vec<String> = rows.iter().map(|row| row.join(",")).collect();
    lines.join("\n").into_bytes()
}

/// Reads and analyses; whether there was an answer.
fn answered(bytes: &[u8], case: u64) -> bool {
    let question = Question {
        comparison: [Comparison::Patches, Comparison::Halves][usize::from(case.is_multiple_of(5))],
        stage: [CountedStage::Late, CountedStage::Eggs][usize::from(case.is_multiple_of(7))],
        ..Question::default()
    };
    let found = read_counts(bytes, "any").and_then(|counts| {
        let prepared = prepare(&counts, &question)?;
        Ok((counts, prepared))
    });
    let (counts, prepared) = match found {
        Err(fault) => {
            assert!(!fault.what.is_empty() && fault.place.is_some(), "{fault}");
            let shown = fault.to_string();
            assert!(!shown.contains('\u{1b}') && shown.len() < 2000, "{shown}");
            return false;
        }
        Ok(found) => found,
    };
    // The mixed model is slow, and the other tests feed it any data.
    let fast = [
        Estimator::Flip,
        Estimator::BetaBinomial,
        Estimator::SignedRank,
        Estimator::LogRatioT,
    ];
    let estimators = if case.is_multiple_of(10) {
        &Estimator::ALL[..]
    } else {
        &fast
    };
    let options = PairedOptions::default();
    let results = compare_sites(&prepared.pairs(), 1.0, estimators, &options).unwrap();
    let analysis = Analysis {
        cautions: cautions(&prepared, &question, options.flips, 1),
        question,
        counts,
        prepared,
        results,
        correction: None,
    };
    let text = analysis_text::report(&analysis);
    assert!(!text.contains('\u{1b}'));
    for line in text.lines() {
        assert!(textwrap::core::display_width(line) <= COLUMNS, "{line}");
    }
    analysis::results(&analysis).unwrap();
    analysis::sites(&analysis).unwrap();
    analysis::dropped(&analysis).unwrap();
    true
}

#[test]
fn exact_no_table_makes_the_program_panic() {
    assert!(answered(SOUND.as_bytes(), 1));
    let mut random = Xoshiro256PlusPlus::seed_from_u64(111);
    let mut answers = [0_u64; 2];
    for case in 0..CASES {
        let bytes = if case % 2 == 0 {
            mutated(&mut random)
        } else {
            with_other_cells(&mut random)
        };
        answers[usize::from(answered(&bytes, case))] += 1;
    }
    println!("{} faults told, {} answers", answers[0], answers[1]);
    // Both ways must have been gone often, or the test tests little.
    assert!(
        answers.iter().all(|count| *count > CASES / 10),
        "{answers:?}"
    );
}
