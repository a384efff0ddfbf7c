//! Draws every chart from invented data into two plain pages, one for each dress, to look at them:
//! `cargo run -p charts --example page -- OUT.html` writes `OUT.html` and, beside it, `OUT.night.html`.

mod invented;

const PAGE: &str = "*{box-sizing:border-box}body{margin:16px auto;padding:0 16px;max-width:1300px;background:var(--paper);color:var(--ink);font:16px/1.45 system-ui,sans-serif}";

fn main() -> std::io::Result<()> {
    let out = std::env::args().nth(1);
    let out = out.unwrap_or_else(|| "charts.html".into());
    let invented = invented::Night::new();
    let charts = invented.charts();
    let figures: String = charts
        .iter()
        .map(|(id, chart)| charts::figure(&**chart, id).into_string())
        .collect();
    let night = format!("{}.night.html", out.strip_suffix(".html").unwrap_or(&out));
    for (path, dress) in [(&out, "paper"), (&night, "night")] {
        let page = format!(
            r#"<!doctype html><html lang="en" data-dress="{dress}"><meta charset="utf-8"><meta name="viewport" content="width=device-width"><title>Charts</title><style>{}{PAGE}</style>{}<main><h1>Charts of an invented night</h1>{figures}</main><script type="module">{}
{}</script></html>"#,
            charts::stylesheet(),
            charts::PATTERNS.0,
            charts::DAY_LINE_JS,
            charts::COVERAGE_GRID_JS
        );
        std::fs::write(path, page)?;
        println!("{path}");
    }
    Ok(())
}
