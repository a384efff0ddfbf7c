//! Draws every chart from invented data into two plain pages, one for each dress, to look at them:
//! `cargo run -p charts --example page -- OUT.html` writes `OUT.html` and, beside it, `OUT.night.html`.

mod invented;

use charts::Chart;

const PAPER: &str = ":root{--paper:#fbf7ef;--ink:#241f1a;--faint:#d9d0c1;--line:#d9d0c1;--tungsten:#c2621b;--shot:#f0ddc6;--warn:#a3271a;--good:#2f6b3c;--section-a:#e69f00;--section-b:#56b4e9;--section-c:#009e73;--section-d:#f0e442;--section-e:#0072b2;--section-f:#d55e00;--section-g:#cc79a7}";
const NIGHT: &str = ":root{--paper:#0a0602;--ink:#e8a04a;--faint:#3a2710;--line:#3a2710;--tungsten:#ff8a1c;--shot:#3d2608;--warn:#ff6a4a;--good:#c9a25a;--section-a:#b8741f;--section-b:#6d4a1c;--section-c:#8f5a12;--section-d:#d08a2e;--section-e:#5a3a14;--section-f:#a5561a;--section-g:#7d5a3a}";
const PAGE: &str = "*{box-sizing:border-box}body{margin:16px auto;padding:0 16px;max-width:1300px;background:var(--paper);color:var(--ink);font:16px/1.45 system-ui,sans-serif}";

fn main() -> std::io::Result<()> {
    let out = std::env::args()
        .nth(1)
        .unwrap_or_else(|| "charts.html".into());
    let map = invented::song();
    let charts: [(&str, &dyn Chart); 6] = [
        ("sky", &invented::sky()),
        ("day", &invented::day_line()),
        ("power", &invented::power()),
        ("stops", &invented::stops()),
        ("coverage", &invented::coverage(&map)),
        ("takes", &invented::takes(&map)),
    ];
    let figures: String = charts
        .iter()
        .map(|(id, chart)| charts::figure(*chart, id))
        .collect();
    let night = format!("{}.night.html", out.strip_suffix(".html").unwrap_or(&out));
    for (path, dress) in [(&out, PAPER), (&night, NIGHT)] {
        let page = format!(
            r#"<!doctype html><html lang="en"><meta charset="utf-8"><meta name="viewport" content="width=device-width"><title>Charts</title><style>{dress}{PAGE}{}</style><main><h1>Charts of an invented night</h1>{figures}</main><script type="module">{}
{}</script></html>"#,
            charts::STYLESHEET,
            charts::DAY_LINE_JS,
            charts::COVERAGE_GRID_JS
        );
        std::fs::write(path, page)?;
        println!("{path}");
    }
    Ok(())
}
