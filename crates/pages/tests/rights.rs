//! Who may ask what of whom: every address there is, as nobody, as a device that was let in, as the person at the
//! machine; against the table in `docs/pages.md`.

mod common;

use axum::body::Body;
use axum::http::{Method, Request, StatusCode, header};
use common::{PORT, Served};
use model::Project;
use std::collections::BTreeMap;
use std::path::Path;

/// Every address with its methods, as the sources declare them.
fn declared(folder: &Path, out: &mut BTreeMap<String, Vec<Method>>) {
    for entry in std::fs::read_dir(folder).expect("the sources").flatten() {
        let path = entry.path();
        if path.is_dir() {
            declared(&path, out);
            continue;
        }
        let text = std::fs::read_to_string(&path).expect("a source");
        for rest in text.split(".route(").skip(1) {
            let Some(address) = rest
                .trim_start()
                .strip_prefix('"')
                .and_then(|rest| rest.split('"').next())
            else {
                continue;
            };
            // The router of a test.
            if rest.contains("get(breaks)") {
                continue;
            }
            let call = &rest[..rest
                .find("\n        .")
                .or_else(|| rest.find("\n}"))
                .unwrap_or(rest.len())];
            let mut methods = Vec::new();
            if call.contains("get(") {
                methods.push(Method::GET);
            }
            if call.contains("post(") || call.contains("form(") {
                methods.push(Method::POST);
            }
            assert!(!methods.is_empty(), "{address}: {call}");
            out.entry(address.to_owned()).or_default().extend(methods);
        }
    }
}

/// The addresses of the table in the document, by who may ask for them.
fn told() -> BTreeMap<String, String> {
    let page = concat!(env!("CARGO_MANIFEST_DIR"), "/../../docs/pages.md");
    let text = std::fs::read_to_string(page).expect("the document");
    let table = text
        .split("## Who may ask for what")
        .nth(1)
        .expect("the table");
    let table = table.split("\n## ").next().unwrap_or_default();
    let mut out = BTreeMap::new();
    for line in table
        .lines()
        .filter(|line| line.starts_with("| ") && line.contains('`'))
    {
        let mut cells = line.trim_matches('|').split('|').map(str::trim);
        let who = cells.next().expect("who").to_owned();
        for address in cells.next().expect("what").split('`').skip(1).step_by(2) {
            assert_eq!(
                out.insert(address.to_owned(), who.clone()),
                None,
                "{address} stands twice"
            );
        }
    }
    out
}

#[tokio::test]
async fn every_address_answers_those_alone_whom_the_document_names() {
    let mut all = BTreeMap::new();
    declared(
        Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/src")),
        &mut all,
    );
    let told = told();
    let declared: Vec<&String> = all.keys().collect();
    let named: Vec<&String> = told.keys().collect();
    assert_eq!(
        declared, named,
        "the table in docs/pages.md names every address and no other"
    );
    assert!(declared.len() > 60, "{declared:?}");

    let served = Served::new(&Project::default()).await;
    let code = served.app.door.code().expect("a code");
    assert!(served.app.door.opens(&code));
    let device = served
        .app
        .door
        .let_in("a phone".into(), false)
        .expect("room");
    let cookie = device.cookie(PORT);
    let cookie = cookie.split(';').next().unwrap_or_default().to_owned();
    let ask = |method: &Method, address: &str, let_in: bool| {
        let path = address
            .replace("{noun}", "place")
            .replace("{id}", "1")
            .replace("{kind}", "otio")
            .replace("{hash}", "x")
            .replace("{*name}", "style.css")
            .replace("{file}", "x.wav")
            .replace("{nth}", "0")
            .replace(
                "/enter",
                &format!("/enter?key={}", served.app.door.owner_key()),
            );
        let mut request = Request::builder()
            .method(method.clone())
            .uri(path)
            .header(header::HOST, format!("127.0.0.1:{PORT}"))
            .header(header::ORIGIN, format!("http://127.0.0.1:{PORT}"))
            .header(header::CONTENT_TYPE, "application/x-www-form-urlencoded");
        let mut body = String::from("folder=%2Ftmp");
        if let_in {
            request = request
                .header(header::COOKIE, &cookie)
                .header("x-barebulb-token", &device.token);
            body += "&token=";
            body += &device.token;
        }
        let body = if *method == Method::GET {
            String::new()
        } else {
            body
        };
        request.body(Body::from(body)).expect("a request")
    };
    for (address, methods) in &all {
        let who = told[address].as_str();
        for method in methods {
            let nobody = served.open(ask(method, address, false)).await.status();
            match who {
                "anybody" => assert_ne!(nobody, StatusCode::UNAUTHORIZED, "{method} {address}"),
                _ => assert_eq!(nobody, StatusCode::UNAUTHORIZED, "{method} {address}"),
            }
            if who == "anybody" {
                continue;
            }
            let let_in = served.open(ask(method, address, true)).await.status();
            match who {
                "the person at this machine" => {
                    assert_eq!(let_in, StatusCode::FORBIDDEN, "{method} {address}")
                }
                "a device that was let in" => assert!(
                    !matches!(let_in, StatusCode::FORBIDDEN | StatusCode::UNAUTHORIZED)
                        && !let_in.is_server_error(),
                    "{method} {address}: {let_in}"
                ),
                other => panic!("{address}: nobody is called `{other}`"),
            }
        }
    }
}
