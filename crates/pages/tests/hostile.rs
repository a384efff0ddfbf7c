//! Requests that mean no good: other names, other sites, no key, no token, paths that lead elsewhere, files
//! that are not what they say.

mod common;

use axum::body::Body;
use axum::http::{Method, Request, StatusCode, header};
use common::{PORT, Served};
use futures_util::StreamExt as _;
use model::{Edit, Project};
use std::time::Duration;

fn bare(method: Method, path: &str, headers: &[(&str, &str)]) -> Request<Body> {
    let mut request = Request::builder().method(method).uri(path);
    for (name, value) in headers {
        request = request.header(*name, *value);
    }
    request.body(Body::empty()).expect("a request")
}

#[tokio::test]
async fn other_names_are_not_answered() {
    let served = Served::new(&Project::default()).await;
    for host in [
        "evil.example:4999",
        "127.0.0.1:80",
        "localhost.evil.example:4999",
        "127.0.0.1",
    ] {
        for path in ["/", "/enter", "/pair", "/assets/x/style.css"] {
            let answer = served
                .send(bare(Method::GET, path, &[("host", host)]))
                .await;
            assert_eq!(
                answer.status,
                StatusCode::MISDIRECTED_REQUEST,
                "{host} {path}"
            );
        }
    }
    let none = served.send(bare(Method::GET, "/", &[])).await;
    assert_eq!(none.status, StatusCode::BAD_REQUEST);
}

#[tokio::test]
async fn without_a_key_there_is_nothing_to_see() {
    let served = Served::new(&Project::default()).await;
    let host = format!("127.0.0.1:{PORT}");
    for path in [
        "/",
        "/song",
        "/takes",
        "/media/song",
        "/events",
        "/history",
        "/works",
        "/nowhere",
    ] {
        for cookie in [
            "",
            "barebulb-4999=0",
            "barebulb-4999=00000000000000000000000000000000",
        ] {
            let answer = served
                .send(bare(
                    Method::GET,
                    path,
                    &[("host", &host), ("cookie", cookie)],
                ))
                .await;
            assert_eq!(answer.status, StatusCode::UNAUTHORIZED, "{path} {cookie}");
        }
    }
    let wrong = served
        .send(bare(Method::GET, "/enter?key=guess", &[("host", &host)]))
        .await;
    assert_eq!(wrong.status, StatusCode::UNAUTHORIZED);
}

#[tokio::test]
async fn changes_of_other_sites_and_without_the_token_are_not_made() {
    let served = Served::new(&Project::default()).await;
    for origin in [
        None,
        Some("null"),
        Some("http://evil.example"),
        Some("https://127.0.0.1:4999"),
        Some("http://127.0.0.1:5000"),
    ] {
        let mut request = served
            .request(Method::POST, "/title")
            .header(header::CONTENT_TYPE, "application/x-www-form-urlencoded")
            .body(Body::from(format!("title=x&token={}", served.token())))
            .expect("a request");
        request.headers_mut().remove(header::ORIGIN);
        if let Some(origin) = origin {
            request
                .headers_mut()
                .insert(header::ORIGIN, origin.parse().expect("a value"));
        }
        assert_eq!(
            served.send(request).await.status,
            StatusCode::FORBIDDEN,
            "{origin:?}"
        );
    }
    for body in ["title=x", "title=x&token=", "title=x&token=0123"] {
        let request = served
            .request(Method::POST, "/title")
            .header(header::CONTENT_TYPE, "application/x-www-form-urlencoded")
            .body(Body::from(body))
            .expect("a request");
        assert_eq!(
            served.send(request).await.status,
            StatusCode::FORBIDDEN,
            "{body}"
        );
    }
    assert_eq!(served.project().title, "");
}

#[tokio::test]
async fn no_path_leads_out_of_the_project() {
    let served = Served::new(&Project::default()).await;
    std::fs::write(served.dir.path().join("secret.txt"), "secret").expect("written");
    for path in [
        "/media/take/..%2F..%2Fetc%2Fpasswd",
        "/media/take/%2Fetc%2Fpasswd",
        "/media/photo/..%2Fsecret.txt",
        "/assets/x/../../Cargo.toml",
        "/assets/x/..%2F..%2FCargo.toml",
        "/assets/x/%2Fetc%2Fpasswd",
        "/setups/playback/..%2Fsecret.txt",
        "/setups/playback/..%2F..%2Fsecret.txt",
        "/change/place/..%2F..",
        "//etc/passwd",
        "/%00",
        "/secret.txt",
    ] {
        let answer = served.get(path).await;
        assert!(answer.status.is_client_error(), "{path}: {}", answer.status);
        assert!(
            !answer.text.contains("secret\n") && !answer.text.contains("root:"),
            "{path}"
        );
    }
}

#[tokio::test]
async fn every_answer_carries_the_policy() {
    let served = Served::new(&Project::default()).await;
    for path in ["/", "/nowhere", "/works", "/media/song"] {
        let answer = served.get(path).await;
        let policy = answer.headers[header::CONTENT_SECURITY_POLICY]
            .to_str()
            .expect("text");
        assert!(
            policy.starts_with("default-src 'none'") && !policy.contains("unsafe"),
            "{path}"
        );
        assert_eq!(answer.headers[header::X_CONTENT_TYPE_OPTIONS], "nosniff");
        for inline in [
            "<script>",
            " style=\"",
            " onclick",
            "javascript:",
            "https://",
        ] {
            assert!(!answer.text.contains(inline), "{path} holds {inline}");
        }
    }
}

fn multipart(served: &Served, path: &str, kind: &str, body: Vec<u8>) -> Request<Body> {
    served
        .request(Method::POST, path)
        .header(header::CONTENT_TYPE, kind)
        .header("x-barebulb-token", served.token())
        .body(Body::from(body))
        .expect("a request")
}

fn part(name: &str, content: &[u8]) -> Vec<u8> {
    let mut body = format!(
        "--b\r\ncontent-disposition: form-data; name=\"song\"; filename=\"{name}\"\r\n\r\n"
    )
    .into_bytes();
    body.extend_from_slice(content);
    body.extend_from_slice(b"\r\n--b--\r\n");
    body
}

#[tokio::test]
async fn files_that_are_not_what_they_say_are_not_taken_in() {
    let served = Served::new(&Project::default()).await;
    let form = "multipart/form-data; boundary=b";
    for (what, kind, body) in [
        (
            "a page",
            form,
            part("song.wav", b"<!doctype html><script>alert(1)</script>"),
        ),
        ("nothing", form, part("song.wav", b"")),
        ("no file", form, b"--b--\r\n".to_vec()),
        (
            "broken off",
            form,
            part("song.wav", b"RIFF\x24\0\0\0WAVEfmt ")[..60].to_vec(),
        ),
        (
            "no boundary",
            "multipart/form-data",
            part("song.wav", b"RIFF"),
        ),
        ("no form", "text/plain", b"x".to_vec()),
        ("no parts", form, b"\0\0\0\0".to_vec()),
    ] {
        let answer = served
            .send(multipart(&served, "/take-in/song", kind, body))
            .await;
        assert!(answer.status.is_client_error(), "{what}: {}", answer.status);
        assert!(
            answer.text.contains("<h1>That did not work</h1>"),
            "{what}: {}",
            answer.text
        );
    }
    // Nothing half taken in is left.
    let left: Vec<_> = std::fs::read_dir(served.dir.path())
        .expect("the folder")
        .flatten()
        .map(|entry| entry.file_name())
        .collect();
    assert!(
        left.iter()
            .all(|name| !name.to_string_lossy().starts_with(".barebulb-")),
        "{left:?}"
    );
    assert!(served.project().song.is_none());
}

#[tokio::test]
async fn too_much_is_refused_before_it_is_read() {
    let served = Served::new(&Project::default()).await;
    let mut request = multipart(
        &served,
        "/take-in/song",
        "multipart/form-data; boundary=b",
        Vec::new(),
    );
    request
        .headers_mut()
        .insert(header::CONTENT_LENGTH, (1_u64 << 30).into());
    assert_eq!(
        served.send(request).await.status,
        StatusCode::PAYLOAD_TOO_LARGE
    );
    // What does not say how long it is is read no further than that.
    let field = format!(
        "--b\r\ncontent-disposition: form-data; name=\"x\"\r\n\r\n{}\r\n",
        "x".repeat(60 << 10)
    );
    let field = axum::body::Bytes::from(field);
    let mut chunks = vec![Ok::<_, std::convert::Infallible>(field); 2000];
    chunks.push(Ok("--b--\r\n".into()));
    let request = served
        .request(Method::POST, "/take-in/log")
        .header(header::CONTENT_TYPE, "multipart/form-data; boundary=b")
        .header("x-barebulb-token", served.token())
        .body(Body::from_stream(futures_util::stream::iter(chunks)))
        .expect("a request");
    let answer = served.send(request).await;
    assert_eq!(answer.status, StatusCode::PAYLOAD_TOO_LARGE);
    assert!(answer.text.contains("100 MB"), "{}", answer.text);
    let long = "x".repeat(3 << 20);
    assert_eq!(
        served.post("/title", &[("title", &long)]).await.status,
        StatusCode::PAYLOAD_TOO_LARGE
    );
}

#[tokio::test]
async fn many_photographs_come_in_together_though_each_is_small() {
    let served = Served::new(&Project::default()).await;
    let mut body = Vec::new();
    for number in 1..=20 {
        let head = format!(
            "--b\r\ncontent-disposition: form-data; name=\"photos\"; filename=\"{number}.jpg\"\r\n\r\n"
        );
        body.extend_from_slice(head.as_bytes());
        body.extend_from_slice(&[0xFF, 0xD8, 0xFF, 0xE0]);
        body.resize(body.len() + (7 << 19), 0);
        body.extend_from_slice(b"\r\n");
    }
    body.extend_from_slice(b"--b--\r\n");
    assert!(body.len() > 61 << 20);
    let request = multipart(
        &served,
        "/take-in/photos",
        "multipart/form-data; boundary=b",
        body,
    );
    let answer = served.send(request).await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.text);
}

#[tokio::test]
async fn a_device_comes_in_by_the_code_and_goes_when_it_is_sent_away() {
    let served = Served::new(&Project::default()).await;
    served
        .app
        .door
        .share(vec![format!("http://127.0.0.1:{PORT}")]);
    let page = served.get("/devices").await.text;
    let code = page.split("/pair?code=").nth(1);
    assert!(
        code.is_none(),
        "the code stands in the QR drawing and in figures, not in a link"
    );
    let figures = page
        .split("aria-label=\"Pairing code\">")
        .nth(1)
        .expect("a code");
    let code: String = figures[..figures.find('<').expect("an end")]
        .chars()
        .filter(char::is_ascii_digit)
        .collect();
    let pair = |code: &str| {
        Request::builder()
            .method(Method::POST)
            .uri("/pair")
            .header("host", format!("127.0.0.1:{PORT}"))
            .header("origin", format!("http://127.0.0.1:{PORT}"))
            .header("content-type", "application/x-www-form-urlencoded")
            .header("user-agent", "Mozilla/5.0 (Linux; Android 15)")
            .body(Body::from(format!("code={code}")))
            .expect("a request")
    };
    assert_eq!(
        served.send(pair("00000000")).await.status,
        StatusCode::FORBIDDEN
    );
    let entered = served.send(pair(&code)).await;
    assert_eq!(entered.status, StatusCode::SEE_OTHER);
    assert_eq!(
        served.send(pair(&code)).await.status,
        StatusCode::FORBIDDEN,
        "a code lets one device in"
    );
    let cookie = entered.headers[header::SET_COOKIE]
        .to_str()
        .expect("text")
        .to_owned();
    let cookie = cookie.split(';').next().unwrap_or_default().to_owned();
    let host = format!("127.0.0.1:{PORT}");
    let as_phone = || bare(Method::GET, "/", &[("host", &host), ("cookie", &cookie)]);
    assert_eq!(served.send(as_phone()).await.status, StatusCode::OK);
    let page = served.get("/devices").await.text;
    assert!(page.contains("a browser on Android"));
    let listening = bare(
        Method::GET,
        "/events",
        &[("host", &host), ("cookie", &cookie)],
    );
    let mut events = served.open(listening).await.into_body().into_data_stream();
    assert!(
        events.next().await.is_some(),
        "it hears where the document stands"
    );
    assert_eq!(
        served.post("/devices/2/out", &[]).await.status,
        StatusCode::SEE_OTHER
    );
    assert_eq!(
        served.send(as_phone()).await.status,
        StatusCode::UNAUTHORIZED
    );
    // What it listened to ends.
    let end = async { while events.next().await.is_some() {} };
    let ended = tokio::time::timeout(Duration::from_secs(20), end).await;
    assert!(ended.is_ok(), "a device that was sent away still hears");
}

/// A project with one take, whose file lies in its folder under `name`, holds `content`, and is said to have
/// been brought in as `brought_in`.
async fn with_take(name: &str, content: &[u8], brought_in: &[u8]) -> Served {
    let served = Served::new(&Project::default()).await;
    let path = served.dir.path().join(name);
    std::fs::write(&path, brought_in).expect("written");
    let (hash, bytes) = media::hash_file(&path, &|| true).expect("hashed");
    std::fs::write(&path, content).expect("written");
    let file = serde_json::json!({ "path": name, "hash": hash, "bytes": bytes });
    let take = serde_json::json!({ "id": "one", "file": file });
    served.edit(&Edit::AddTakes {
        takes: vec![serde_json::from_value(take).expect("a take")],
    });
    served
}

#[tokio::test]
async fn what_is_both_sound_and_script_is_served_as_sound_that_runs_nothing() {
    let begins: [(&[u8], &str); 6] = [
        (b"RIFF\x24\0\0\0WAVEfmt ", "audio/wav"),
        (b"ID3\x04\0\0\0\0\0\0", "audio/mpeg"),
        (b"fLaC\0\0\0\x22", "audio/flac"),
        (b"OggS\0\x02", "application/ogg"),
        (b"\0\0\0\x20ftypisom", "video/mp4"),
        (b"\x1a\x45\xdf\xa3", "video/x-matroska"),
    ];
    for (begins, kind) in begins {
        for name in ["a.html", "a.js", "a.svg", "a.xhtml", "a.pdf", "a.mov", "a"] {
            let mut file = begins.to_vec();
            file.extend_from_slice(b"/*<!doctype html><script>alert(1)</script>*/");
            let served = with_take(name, &file, &file).await;
            let answer = served.get("/media/take/one").await;
            assert_eq!(answer.status, StatusCode::OK, "{name}");
            assert_eq!(answer.headers[header::CONTENT_TYPE], kind, "{name}");
            assert_eq!(answer.headers[header::X_CONTENT_TYPE_OPTIONS], "nosniff");
            let policy = &answer.headers[header::CONTENT_SECURITY_POLICY];
            assert_eq!(policy, "default-src 'none'; sandbox", "{name}");
        }
    }
    // What is nothing that is known here is for keeping alone.
    let page = b"<!doctype html><script>alert(1)</script>";
    let served = with_take("a.html", page, page).await;
    let answer = served.get("/media/take/one").await;
    assert_eq!(
        answer.headers[header::CONTENT_TYPE],
        "application/octet-stream"
    );
    assert_eq!(answer.headers[header::CONTENT_DISPOSITION], "attachment");
}

#[tokio::test]
async fn only_what_was_brought_in_is_shown_whatever_the_document_names() {
    let sound = b"RIFF\x24\0\0\0WAVEfmt one";
    let other = b"RIFF\x24\0\0\0WAVEfmt two";
    let served = with_take("a.wav", sound, sound).await;
    assert_eq!(served.get("/media/take/one").await.status, StatusCode::OK);
    // Of the same size, under the same name: a plan from elsewhere may name any file of this machine.
    let served = with_take("a.wav", other, sound).await;
    let answer = served.get("/media/take/one").await;
    assert_eq!(answer.status, StatusCode::NOT_FOUND);
    assert!(!answer.text.contains("two"), "{}", answer.text);
    // Changed after it was shown.
    let served = with_take("a.wav", sound, sound).await;
    assert_eq!(served.get("/media/take/one").await.status, StatusCode::OK);
    std::fs::write(served.dir.path().join("a.wav"), other).expect("written");
    assert_eq!(
        served.get("/media/take/one").await.status,
        StatusCode::NOT_FOUND
    );
}

#[tokio::test]
async fn what_comes_before_the_token_or_without_end_is_not_kept() {
    let served = Served::new(&Project::default()).await;
    let field = |name: &str, text: &str| {
        format!("--b\r\ncontent-disposition: form-data; name=\"{name}\"\r\n\r\n{text}\r\n")
    };
    let send = |body: String, token: Option<&str>| {
        let mut request = served.request(Method::POST, "/take-in/song");
        if let Some(token) = token {
            request = request.header("x-barebulb-token", token);
        }
        let request = request.header(header::CONTENT_TYPE, "multipart/form-data; boundary=b");
        served.send(request.body(Body::from(body)).expect("a request"))
    };
    let before = field("note", "x") + &field("token", served.token()) + "--b--\r\n";
    assert_eq!(send(before, None).await.status, StatusCode::FORBIDDEN);
    let many: String = (0..2000)
        .map(|n| field(&format!("field-{n}"), &"x".repeat(60)))
        .collect();
    let many = field("token", served.token()) + &many + "--b--\r\n";
    assert_eq!(
        send(many.clone(), None).await.status,
        StatusCode::PAYLOAD_TOO_LARGE
    );
    let token = served.token();
    assert_eq!(
        send(many, Some(token)).await.status,
        StatusCode::PAYLOAD_TOO_LARGE
    );
}

#[tokio::test]
async fn works_do_not_queue_without_end() {
    let served = Served::new(&Project::default()).await;
    // One that takes long has its turn.
    let app = served.app.clone();
    let (give, wait) = std::sync::mpsc::channel::<()>();
    let (tell, told) = std::sync::mpsc::channel::<()>();
    let long = std::thread::spawn(move || {
        let turn = app.works.turn(pages::work::Lane::Long);
        tell.send(()).expect("told");
        let _ = wait.recv();
        drop(turn);
    });
    told.recv().expect("its turn");
    let mut refused = 0;
    for _ in 0..100 {
        let answer = served.post("/assembly/preview", &[]).await;
        refused += usize::from(answer.status == StatusCode::TOO_MANY_REQUESTS);
    }
    assert_eq!(refused, 100 - 32);
    // The pages go on, and what is quick has its turn.
    assert_eq!(served.get("/").await.status, StatusCode::OK);
    served.app.works.stop_all();
    drop(give);
    long.join().expect("ended");
}

#[tokio::test]
async fn pages_are_read_while_another_program_writes() {
    let served = Served::new(&Project::default()).await;
    let file = store::Folder::new(served.dir.path()).database();
    let mut other = store::Store::open(served.dir.path()).expect("opened");
    let (give, wait) = std::sync::mpsc::channel::<()>();
    let (tell, told) = std::sync::mpsc::channel::<()>();
    let writes = std::thread::spawn(move || {
        let now = store::UnixMs(0);
        other.apply_with("waits", now, |project: &Project| {
            tell.send(()).expect("told");
            let _ = wait.recv();
            Ok::<_, std::io::Error>(project.clone())
        })
    });
    told.recv().expect("it writes");
    // An edit waits for its turn; a page does not wait for the edit.
    let edit = served.post("/title", &[("title", "x")]);
    let read = async {
        tokio::time::sleep(Duration::from_millis(200)).await;
        let page = served.get("/").await;
        drop(give);
        page
    };
    let (edit, page) = tokio::join!(edit, read);
    assert_eq!(page.status, StatusCode::OK);
    assert!(edit.status.is_redirection(), "{}", edit.text);
    assert!(writes.join().expect("ended").is_ok());
    assert_eq!(served.project().title, "x");
    assert!(file.is_file());
}

#[tokio::test]
async fn a_revision_that_is_none_is_not_found() {
    let served = Served::new(&Project::default()).await;
    let tapped = serde_json::json!({ "revision": 999, "times": {} });
    let answer = served.post_json("/song/lyrics/tapped", &tapped).await;
    assert_eq!(answer.status, StatusCode::NOT_FOUND, "{}", answer.text);
}

#[tokio::test]
async fn nothing_is_written_that_could_not_be_read_again() {
    let served = Served::new(&Project::default()).await;
    let nested = |depth: usize| {
        let mut value = serde_json::json!(1);
        for _ in 0..depth {
            value = serde_json::json!([value]);
        }
        value
    };
    let mark = pocket::log::mark(&served.project());
    let number = std::cell::Cell::new(0);
    let entry = |value: serde_json::Value| {
        number.set(number.get() + 1);
        let number = number.get();
        serde_json::json!({ "device": "phone", "project": mark, "entries": [{
            "device": "phone", "number": number, "at_ms": 1, "what": { "kind": "note", "text": "x" }, "later": value,
        }] })
    };
    let kept = served.post_json("/pocket/log", &entry(nested(16))).await;
    assert_eq!(kept.status, StatusCode::OK, "{}", kept.text);
    for depth in [17, 100, 120, 124, 126] {
        let answer = served.post_json("/pocket/log", &entry(nested(depth))).await;
        assert!(
            answer.status.is_client_error(),
            "{depth}: {}",
            answer.status
        );
    }
    let large = serde_json::json!("x".repeat(300 << 10));
    let answer = served.post_json("/pocket/log", &entry(large)).await;
    assert!(answer.status.is_client_error(), "{}", answer.status);
    assert!(steps::Job::open(served.dir.path()).is_ok());
}
