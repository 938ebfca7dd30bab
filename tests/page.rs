//! The lesson page in a real browser: it plays what the engine recorded, and counts what the engine counted.

#[path = "page/browser.rs"]
mod browser;

use browser::{Look, NARROW, Page, WIDE, chromium};
use crawlspan::runner::Unwatched;
use crawlspan::study::lesson::{GAPS_M, SHARES, SIDES};
use crawlspan::study::plan_with;
use crawlspan::world::HalfId;
use crawlspan::{Layered, Runner, Season};
use serde_json::Value;
use std::path::PathBuf;
use std::sync::OnceLock;
use std::sync::atomic::AtomicBool;

/// Seasons recorded at each setting in these tests.
const TAKES: u64 = 2;
const SEED: u64 = 11;
const LARGEST_PAGE: u64 = 5 * 1024 * 1024;

/// The page, made once for all tests by the program itself.
fn lesson() -> &'static PathBuf {
    static LESSON: OnceLock<(tempfile::TempDir, PathBuf)> = OnceLock::new();
    let (_, page) = LESSON.get_or_init(|| {
        let folder = tempfile::tempdir().expect("a folder");
        let output = assert_cmd::Command::new(env!("CARGO_BIN_EXE_crawlspan"))
            .current_dir(folder.path())
            .args(["lesson", "--out", "made", "--seasons", "40"])
            .args(["--takes", &TAKES.to_string(), "--seed", &SEED.to_string()])
            .output()
            .expect("the program runs");
        let told = String::from_utf8_lossy(&output.stderr);
        assert!(output.status.success(), "{told}");
        let page = folder.path().join("made/teaching-plots/lesson.html");
        (folder, page)
    });
    page
}

fn open(look: Look) -> Option<Page> {
    let program = chromium()?;
    let page = Page::open(&program, lesson(), look);
    page.wait("window.lesson !== undefined && document.readyState === 'complete'");
    Some(page)
}

/// Sets a control as its user would, telling the page.
fn set(page: &Page, id: &str, value: &str) {
    page.act(&format!(
        "const it = document.getElementById('{id}'); it.value = '{value}'; \
         it.dispatchEvent(new Event('input', {{ bubbles: true }})); it.dispatchEvent(new Event('change', {{ bubbles: true }}))"
    ));
}

/// What the picture shows, to tell whether it has changed.
fn picture(page: &Page) -> String {
    page.text("document.getElementById('picture').toDataURL()")
}

#[test]
fn exact_the_page_is_small_and_has_the_cautions() {
    let text = std::fs::read_to_string(lesson()).expect("the page");
    let bytes = text.len() as u64;
    assert!(bytes < LARGEST_PAGE, "{bytes} bytes");
    for caution in ["latex", "Cutting tools injure", "owner", "not permission"] {
        let plain = text.to_lowercase();
        assert!(plain.contains(&caution.to_lowercase()), "{caution}");
    }
    assert!(
        !text.contains("{{"),
        "a place in the template was left unfilled"
    );
}

#[test]
fn exact_it_opens_from_disk_without_complaint_or_request() {
    let Some(page) = open(WIDE) else { return };
    page.click("#play");
    page.wait("window.lesson.hour > 0");
    page.click("#play");
    assert_eq!(page.complaints(), Vec::<String>::new());
    let outside: Vec<String> = page
        .requests()
        .into_iter()
        .filter(|address| !address.starts_with("file://") && !address.starts_with("data:"))
        .collect();
    assert_eq!(outside, Vec::<String>::new());
    let loaded = page.number("performance.getEntriesByType('resource').length");
    assert_eq!(loaded, 0.0, "the page loads other files");
}

#[test]
fn exact_play_goes_on_and_pause_holds() {
    let Some(page) = open(WIDE) else { return };
    let before = (page.number("window.lesson.hour"), picture(&page));
    page.click("#play");
    page.wait(&format!(
        "window.lesson.playing && window.lesson.hour > {}",
        before.0 + 24.0
    ));
    page.click("#play");
    assert!(!page.truth("window.lesson.playing"));
    let held = page.number("window.lesson.hour");
    assert_ne!(before.1, picture(&page));
    std::thread::sleep(std::time::Duration::from_millis(400));
    assert_eq!(held, page.number("window.lesson.hour"));
}

#[test]
fn exact_every_control_changes_what_it_says() {
    let Some(page) = open(WIDE) else { return };
    set(&page, "day", "50");
    let day = |page: &Page| (page.number("window.lesson.hour") / 24.0).floor();
    assert_eq!(day(&page), 50.0);
    set(&page, "share", "2");
    let mut before = picture(&page);
    let mut changed = |page: &Page, what: &str| {
        let now = picture(page);
        assert_ne!(before, now, "{what} does not change the picture");
        before = now;
    };
    let far = GAPS_M.len() - 1;
    set(&page, "gap", &far.to_string());
    assert_eq!(page.number("window.lesson.take.gap_m"), GAPS_M[far]);
    changed(&page, "the gap");
    set(&page, "share", "3");
    assert_eq!(page.number("window.lesson.take.refuge_share"), SHARES[3]);
    changed(&page, "the refuge share");
    set(&page, "side", "1");
    assert_eq!(
        page.text("window.lesson.take.cut_side"),
        SIDES[1].to_lowercase()
    );
    changed(&page, "the cut side");
    set(&page, "season", "1");
    assert_eq!(page.number("window.lesson.take.season"), 1.0);
    changed(&page, "the season");
    page.click("#compare-halves");
    assert_eq!(page.text("window.lesson.take.compare"), "halves");
    changed(&page, "what is compared");
    assert_eq!(day(&page), 50.0, "the day stays when the layout changes");
    page.click("#next-count");
    assert!(page.number("window.lesson.hour") / 24.0 > 50.0);
    changed(&page, "the next count day");
}

#[test]
fn exact_speed_makes_the_days_go_by_faster() {
    let Some(page) = open(WIDE) else { return };
    let speeds =
        page.value("[...document.getElementById('speed').options].map((one) => one.value)");
    let speeds: Vec<String> = serde_json::from_value(speeds).expect("a list");
    assert!(speeds.len() > 1);
    let pace = |value: &str| {
        set(&page, "day", "0");
        set(&page, "speed", value);
        page.click("#play");
        page.wait("window.lesson.playing");
        let hours = page.number(
            "(async () => { const from = window.lesson.hour, at = performance.now(); \
             await new Promise((done) => setTimeout(done, 1500)); \
             return (window.lesson.hour - from) / (performance.now() - at); })()",
        );
        page.click("#play");
        hours
    };
    let (slow, fast) = (pace(&speeds[0]), pace(&speeds[speeds.len() - 1]));
    assert!(fast > 1.3 * slow, "{slow} and {fast} hours a millisecond");
}

#[test]
fn exact_keys_work_on_the_picture() {
    let Some(page) = open(WIDE) else { return };
    set(&page, "day", "30");
    page.act("document.getElementById('stage').focus()");
    let day = |page: &Page| (page.number("window.lesson.hour") / 24.0).floor();
    page.press("ArrowRight");
    assert_eq!(day(&page), 31.0);
    page.press("ArrowLeft");
    page.press("ArrowLeft");
    assert_eq!(day(&page), 29.0);
    page.press("PageDown");
    assert_eq!(day(&page), 36.0);
    let gap = page.number("window.lesson.take.gap");
    page.press("g");
    assert_ne!(gap, page.number("window.lesson.take.gap"));
    page.press(" ");
    assert!(page.truth("window.lesson.playing"));
    page.press(" ");
    assert!(!page.truth("window.lesson.playing"));
}

#[test]
fn exact_touch_works() {
    use headless_chrome::protocol::cdp::{Emulation, Input};
    let Some(page) = open(NARROW) else { return };
    page.act(
        "document.getElementById('play').scrollIntoView({ block: 'center', behavior: 'instant' })",
    );
    page.act("addEventListener('touchend', () => { window.touched = true; })");
    let place = page.value(
        "(() => { const box = document.getElementById('play').getBoundingClientRect(); \
         return [box.x + box.width / 2, box.y + box.height / 2, box.width, box.height]; })()",
    );
    let place: Vec<f64> = serde_json::from_value(place).expect("four numbers");
    assert!(
        place[2] >= 40.0 && place[3] >= 40.0,
        "a thumb needs room: {place:?}"
    );
    page.tab()
        .call_method(Emulation::SetTouchEmulationEnabled {
            enabled: true,
            max_touch_points: Some(1),
        })
        .expect("a touch screen");
    let touch = |kind, touch_points| {
        page.tab()
            .call_method(Input::DispatchTouchEvent {
                Type: kind,
                touch_points,
                modifiers: None,
                timestamp: None,
            })
            .expect("a touch");
    };
    let thumb = Input::TouchPoint {
        x: place[0],
        y: place[1],
        radius_x: None,
        radius_y: None,
        rotation_angle: None,
        force: None,
        tangential_pressure: None,
        tilt_x: None,
        tilt_y: None,
        twist: None,
        id: None,
    };
    touch(Input::DispatchTouchEventTypeOption::TouchStart, vec![thumb]);
    touch(Input::DispatchTouchEventTypeOption::TouchEnd, vec![]);
    page.wait("window.touched === true && window.lesson.playing");
}

#[test]
fn exact_less_motion_means_whole_days() {
    let look = Look {
        less_motion: true,
        ..WIDE
    };
    let Some(page) = open(look) else { return };
    let hours = page.value(
        "(async () => { const seen = []; document.getElementById('play').click(); \
         for (let k = 0; k < 30; k += 1) { await new Promise((done) => setTimeout(done, 60)); seen.push(window.lesson.hour); } \
         return seen; })()",
    );
    let hours: Vec<f64> = serde_json::from_value(hours).expect("hours");
    assert!(hours[hours.len() - 1] > hours[0]);
    for pair in hours.windows(2) {
        assert_eq!((pair[1] - pair[0]) % 24.0, 0.0, "{hours:?}");
    }
}

#[test]
fn exact_scenes_ask_first_and_answer_with_their_own_counts() {
    let Some(page) = open(WIDE) else { return };
    let scenes = page.number("document.querySelectorAll('#scenes button').length");
    assert_eq!(scenes, 4.0);
    for scene in 0..4 {
        page.act(&format!(
            "document.querySelectorAll('#scenes button')[{scene}].click()"
        ));
        assert!(
            page.truth("document.getElementById('answer').hidden"),
            "scene {scene} gives the answer away"
        );
        assert!(page.number("document.querySelectorAll('#expectations input').length") >= 2.0);
        let question = page.text("document.getElementById('question-text').textContent");
        assert!(question.contains('?'), "{question}");
        page.click("#scene-skip");
        page.wait("!document.getElementById('answer').hidden");
        let answer = page.text("document.getElementById('answer-text').textContent");
        assert!(
            answer.chars().any(|letter| letter.is_ascii_digit()),
            "scene {scene}: {answer}"
        );
        // What the sheet shows beside it must be what the answer speaks of.
        let shown = page.text("document.getElementById('second-counted').textContent");
        let spoken = answer.contains(&shown) || answer.to_lowercase().contains("no late");
        assert!(
            spoken || scene == 3,
            "scene {scene}, {shown} on the sheet: {answer}"
        );
    }
}

/// Counted as late stage by the engine up to each count day, straight from its sightings: on each of the halves, and of
/// those how many were laid in each.
fn engine_counts(gap: usize, share: usize, side: usize, season: u64) -> Vec<[[u64; 3]; 3]> {
    let layered = Layered::open("teaching-plots").expect("a scenario");
    let plan = plan_with(
        &layered,
        &[
            ("site.gap_m", GAPS_M[gap].to_string()),
            ("site.refuge_share", SHARES[share].to_string()),
            ("site.cut_side", SIDES[side].to_owned()),
        ],
    )
    .expect("a plan");
    let stop = AtomicBool::new(false);
    let key = Runner::new(SEED, &Unwatched, &stop).key(0, season);
    let mut run = Season::new(&plan);
    run.run(key, &mut crawlspan::walk::NoTrail);
    let index = |half: HalfId| half.index();
    (0..plan.clock.surveys.len())
        .map(|last| {
            let mut counts = [[0; 3]; 3];
            for sighting in &run.sightings {
                let late = sighting
                    .read
                    .is_some_and(|read| plan.scenario.is_late(usize::from(read)));
                if usize::from(sighting.survey) <= last && late {
                    counts[index(sighting.stands)][index(sighting.natal)] += 1;
                }
            }
            counts
        })
        .collect()
}

#[test]
fn exact_counts_shown_are_the_engines_at_every_setting_on_every_count_day() {
    let Some(page) = open(WIDE) else { return };
    // For every setting and count day: what the page shows, read off its elements.
    let shown = page.value(
        "(() => { const it = (id) => document.getElementById(id); const rows = []; \
         const tell = (one, value) => { one.value = value; one.dispatchEvent(new Event('input', { bubbles: true })); one.dispatchEvent(new Event('change', { bubbles: true })); }; \
         const data = JSON.parse(it('lesson').textContent); \
         for (const take of data.takes) for (const compare of ['patches', 'halves']) { \
           if (compare === 'halves' && data.refuge_shares[take.share] === 0) continue; \
           tell(it('gap'), take.gap); tell(it('share'), take.share); tell(it('side'), take.side); tell(it('season'), take.season); \
           it('compare-' + compare).click(); \
           data.count_hours.forEach((hour, survey) => { tell(it('day'), Math.floor(hour / 24)); \
             const read = (id) => Number(it(id).textContent); \
             const now = window.lesson.take; \
             rows.push({ gap: now.gap, share: now.share, side: now.side, season: now.season, compare, survey, \
               groups: ['first', 'second'].map((place) => ({ group: it(place).dataset.group, counted: read(place + '-counted'), here: read(place + '-here'), elsewhere: read(place + '-elsewhere'), natal: read(place + '-natal') })) }); }); } \
         return rows; })()",
    );
    let rows = shown.as_array().expect("rows");
    let settings = GAPS_M.len() * (1 + 2 * (SHARES.len() - 1)) * TAKES as usize;
    let patches = settings * 6;
    let halves = GAPS_M.len() * 2 * (SHARES.len() - 1) * TAKES as usize * 6;
    assert_eq!(rows.len(), patches + halves);
    let mut counted = 0;
    let mut strays = 0;
    let mut known: std::collections::HashMap<[usize; 4], Vec<[[u64; 3]; 3]>> = Default::default();
    for row in rows {
        let number = |name: &str| row[name].as_u64().expect(name) as usize;
        let at = [
            number("gap"),
            number("share"),
            number("side"),
            number("season"),
        ];
        let counts = known
            .entry(at)
            .or_insert_with(|| engine_counts(at[0], at[1], at[2], at[3] as u64))[number("survey")];
        let sum = |stood: &[usize], laid: &[usize]| -> u64 {
            stood
                .iter()
                .flat_map(|s| laid.iter().map(move |l| counts[*s][*l]))
                .sum()
        };
        for group in row["groups"].as_array().expect("groups") {
            let own: &[usize] = match group["group"].as_str().expect("a group") {
                "treated" => &[0, 1],
                "untouched" => &[2],
                "refuge" => &[0],
                "cut" => &[1],
                other => panic!("{other}"),
            };
            // Halves are compared within the treated patch, so its strays from the other patch are from elsewhere.
            let all = sum(own, &[0, 1, 2]);
            let here = sum(own, own);
            assert_eq!(group["counted"], Value::from(all), "{row}");
            assert_eq!(group["here"], Value::from(here), "{row}");
            assert_eq!(group["elsewhere"], Value::from(all - here), "{row}");
            assert_eq!(group["natal"], Value::from(sum(&[0, 1, 2], own)), "{row}");
            counted += all;
            strays += all - here;
        }
    }
    assert!(
        counted > 1000 && strays > 100,
        "{counted} counted, {strays} strays: too few to tell"
    );
}

#[test]
fn exact_it_fits_from_phone_to_desk() {
    for look in [NARROW, WIDE] {
        let Some(page) = open(look) else { return };
        for scene in 0..4 {
            page.act(&format!(
                "document.querySelectorAll('#scenes button')[{scene}].click()"
            ));
            page.click("#scene-skip");
            let over = page.number(
                "document.documentElement.scrollWidth - document.documentElement.clientWidth",
            );
            assert!(
                over <= 0.0,
                "{} px wide, scene {scene}: {over} px too wide",
                look.width
            );
        }
    }
}

/// axe-core, of the Mozilla Public License 2.0: the page must have no serious fault by its rules.
const AXE: &str = include_str!("page/axe.min.js");

#[test]
fn published_no_serious_fault_of_access_by_axe() {
    for look in [NARROW, WIDE] {
        for dark in [false, true] {
            let Some(page) = open(Look { dark, ..look }) else {
                return;
            };
            page.click("#scene-skip");
            page.wait("!document.getElementById('answer').hidden");
            page.tab().evaluate(AXE, false).expect("axe loads");
            let faults = page.value(
                "axe.run().then((found) => found.violations.filter((one) => ['serious', 'critical'].includes(one.impact)) \
                 .map((one) => one.id + ': ' + one.nodes.map((node) => node.target.join(' ')).join(', ')))",
            );
            assert_eq!(
                faults,
                Value::Array(vec![]),
                "{} px wide, dark {dark}",
                look.width
            );
            let checks = page.number("axe.run().then((found) => found.passes.length)");
            assert!(checks > 20.0, "axe ran only {checks} rules");
        }
    }
}

#[test]
fn exact_axe_would_find_a_fault() {
    let Some(page) = open(WIDE) else { return };
    page.act("document.getElementById('play').textContent = ''; document.getElementById('play').removeAttribute('aria-label')");
    page.tab().evaluate(AXE, false).expect("axe loads");
    let faults = page.number(
        "axe.run().then((found) => found.violations.filter((one) => one.id === 'button-name').length)",
    );
    assert_eq!(faults, 1.0);
}

#[path = "support/hostile.rs"]
mod hostile;

/// Every page of a study whose texts are all markup: nothing of it runs, loads, or breaks the page, and the page's policy
/// has nothing to stop.
#[test]
fn exact_no_text_gets_into_the_working_of_a_page() {
    let folder = tempfile::tempdir().expect("a folder");
    let Some(program) = chromium() else { return };
    for file in hostile::pages(folder.path()) {
        let name = file.display();
        let page = Page::open(&program, &file, WIDE);
        page.wait("document.readyState === 'complete'");
        let is_lesson = file.ends_with("lesson.html");
        if is_lesson {
            page.wait("window.lesson !== undefined");
            page.click("#play");
            page.wait("window.lesson.hour > 0");
        }
        assert_eq!(page.complaints(), Vec::<String>::new(), "{name}");
        assert_ne!(page.text("document.title"), "run", "{name}");
        let count = |selector: &str| {
            page.number(&format!("document.querySelectorAll(\"{selector}\").length"))
        };
        assert_eq!(count("script"), if is_lesson { 2.0 } else { 0.0 }, "{name}");
        assert_eq!(
            count("a:not([href^='#']), iframe, object, link, base, [onerror], [onload]"),
            0.0,
            "{name}"
        );
        assert_eq!(
            count("meta[http-equiv=Content-Security-Policy]"),
            1.0,
            "{name}"
        );
        let pictures =
            page.truth("[...document.images].every((it) => it.complete && it.naturalWidth > 0)");
        assert!(pictures, "{name}: a picture beside the page is missing");
        let text = page.text("document.body.textContent");
        assert!(
            text.contains("<img src=x")
                || file.ends_with("calendar.html")
                || file.ends_with("recruitment-note.html"),
            "{name}: the text itself is lost"
        );
        // The rules of the page are in force.
        assert_ne!(
            page.text("getComputedStyle(document.body).fontFamily"),
            "\"Times New Roman\"",
            "{name}"
        );
        // What a page must not do, it cannot do even if something got in.
        page.act("const it = document.createElement('script'); it.textContent = 'document.title = \"run\"'; document.body.append(it)");
        assert_ne!(
            page.text("document.title"),
            "run",
            "{name}: a foreign script runs"
        );
    }
}
