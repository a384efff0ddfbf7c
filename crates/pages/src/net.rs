//! The server: where it listens, whom it lets connect, and how it ends.

use crate::app::App;
use crate::blocking;
use crate::door::{Door, NotLetIn};
use crate::events::Event;
use crate::guard::{ASKED, KnownAs, Reached};
use crate::live;
use crate::router::router;
use axum::extract::Request;
use hyper::body::Incoming;
use hyper_util::rt::{TokioIo, TokioTimer};
use std::collections::VecDeque;
use std::net::{IpAddr, Ipv4Addr, SocketAddr, UdpSocket};
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::broadcast::error::RecvError;
use tokio::task::AbortHandle;
use tower::ServiceExt as _;

/// How it is served.
#[derive(Clone, Debug)]
pub struct Options {
    /// The project's folder.
    pub dir: PathBuf,
    /// The port; a usual one, or any free one, when none is said.
    pub port: Option<u16>,
    /// Whether other devices of the local network may ask.
    pub share: bool,
}

/// Where it is reached.
#[derive(Clone, Debug)]
pub struct Address {
    /// The address to open at this machine; it lets its opener in.
    pub open: String,
    /// The address to start a browser with: it opens once.
    pub start: String,
    /// Where other devices find it, when it is shared.
    pub shared: Vec<String>,
}

/// Why it can't be served.
#[derive(Debug, thiserror::Error)]
pub enum Error {
    /// The project can't be opened.
    #[error(transparent)]
    Step(#[from] steps::Error),
    /// Nobody could be let in.
    #[error(transparent)]
    Door(#[from] NotLetIn),
    /// The port can't be had.
    #[error(
        "port {port} can't be listened on ({cause}); name another with --port, or 0 for any that is free"
    )]
    Port {
        /// Which.
        port: u16,
        /// What the system says.
        cause: std::io::Error,
    },
    /// The runtime can't be started.
    #[error("the server can't be started: {0}")]
    Start(std::io::Error),
}

/// The port that is tried first. Not assigned to anything by IANA.
const USUAL_PORT: u16 = 4717;
/// Connections at once; beyond, one makes room that has not asked anything yet, then one of nobody who was let
/// in. Who was let in makes room for nobody.
const MOST_CONNECTIONS: usize = 400;
/// How long the head of a request may take to come in.
const HEAD_TIME: Duration = Duration::from_secs(15);

/// Serves the project until `keep_going` says no; `ready` is told where.
///
/// # Errors
/// When the project can't be opened or the port can't be had.
pub fn serve(
    options: &Options,
    keep_going: impl Fn() -> bool,
    ready: impl FnOnce(&Address),
) -> Result<(), Error> {
    let app = App::open(&options.dir, Door::new()?)?;
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .enable_all()
        .thread_name("pages")
        .max_blocking_threads(blocking::MOST_THREADS)
        .build()
        .map_err(Error::Start)?;
    runtime.block_on(async {
        let (listener, reached) = listen(options).await?;
        let enter = |key: &str| format!("http://127.0.0.1:{}/enter?key={key}", reached.port);
        let address = Address {
            open: enter(app.door.owner_key()),
            start: enter(&app.door.one_use_key()?),
            shared: shared(options, &reached),
        };
        app.door.share(address.shared.clone());
        tokio::spawn(live::watch(app.clone()));
        let accepting = tokio::spawn(accept(listener, app.clone(), reached));
        ready(&address);
        while keep_going() {
            tokio::time::sleep(Duration::from_millis(100)).await;
        }
        accepting.abort();
        Ok::<(), Error>(())
    })?;
    // Work that runs stops within a second or so and leaves nothing half done.
    app.works.stop_all();
    runtime.shutdown_timeout(Duration::from_secs(3));
    Ok(())
}

async fn listen(options: &Options) -> Result<(TcpListener, Reached), Error> {
    let ip = if options.share {
        Ipv4Addr::UNSPECIFIED
    } else {
        Ipv4Addr::LOCALHOST
    };
    let port = options.port.unwrap_or(USUAL_PORT);
    let listener = match TcpListener::bind((ip, port)).await {
        Ok(listener) => listener,
        // Another project is open already.
        Err(_) if options.port.is_none() => TcpListener::bind((ip, 0))
            .await
            .map_err(|cause| Error::Port { port: 0, cause })?,
        Err(cause) => return Err(Error::Port { port, cause }),
    };
    let port = listener.local_addr().map_or(port, |at| at.port());
    let mut addresses = vec![IpAddr::V4(Ipv4Addr::LOCALHOST)];
    if options.share {
        addresses.extend(local_address());
    }
    let reached = Reached {
        addresses: addresses.into(),
        port,
    };
    Ok((listener, reached))
}

fn shared(options: &Options, reached: &Reached) -> Vec<String> {
    if !options.share {
        return Vec::new();
    }
    reached
        .addresses
        .iter()
        .filter(|ip| !ip.is_loopback())
        .map(|ip| format!("http://{}", SocketAddr::new(*ip, reached.port)))
        .collect()
}

/// The address this machine has in its local network, by asking which it would send from. Nothing is sent.
fn local_address() -> Option<IpAddr> {
    let socket = UdpSocket::bind((Ipv4Addr::UNSPECIFIED, 0)).ok()?;
    // 192.0.2.0/24 is set aside for documents (RFC 5737): it leads nowhere, but has a route.
    socket.connect((Ipv4Addr::new(192, 0, 2, 1), 9)).ok()?;
    let ip = socket.local_addr().ok()?.ip();
    (!ip.is_loopback() && !ip.is_unspecified()).then_some(ip)
}

struct Held {
    known: KnownAs,
    task: AbortHandle,
}

async fn accept(listener: TcpListener, app: Arc<App>, reached: Reached) {
    let router = router(app.clone());
    let mut events = app.events.listen();
    let mut held: VecDeque<Held> = VecDeque::new();
    loop {
        let came = tokio::select! {
            came = listener.accept() => came,
            event = events.recv() => {
                // What is open of those who were sent away ends.
                if matches!(event, Ok(Event::Devices) | Err(RecvError::Lagged(_))) {
                    let inside: Vec<u64> = app.door.sessions().iter().map(|one| one.id).collect();
                    let away = |one: &Held| one.known.who().is_some_and(|id| !inside.contains(&id));
                    let open = held.iter().filter(|one| away(one));
                    tokio::spawn(end_soon(open.map(|one| one.task.clone()).collect()));
                }
                continue;
            }
        };
        let stream = match came {
            Ok((stream, _)) => stream,
            Err(_) => {
                // Out of descriptors, most likely: those that only wait make room.
                make_room(&mut held, 16);
                tokio::time::sleep(Duration::from_millis(20)).await;
                continue;
            }
        };
        held.retain(|one| !one.task.is_finished());
        if held.len() >= MOST_CONNECTIONS {
            make_room(&mut held, 1);
        }
        if held.len() >= MOST_CONNECTIONS {
            // All are of people who were let in: the new one has to come again.
            continue;
        }
        let known = KnownAs::default();
        let service = {
            let (router, known, reached) = (router.clone(), known.clone(), reached.clone());
            hyper::service::service_fn(move |request: hyper::Request<Incoming>| {
                known.asks();
                let mut request: Request = request.map(axum::body::Body::new);
                request.extensions_mut().insert(known.clone());
                request.extensions_mut().insert(reached.clone());
                router.clone().oneshot(request)
            })
        };
        let task = tokio::spawn(one(stream, service));
        held.push_back(Held {
            known,
            task: task.abort_handle(),
        });
    }
}

/// Ends connections once what is being answered has had its time.
async fn end_soon(open: Vec<AbortHandle>) {
    tokio::time::sleep(Duration::from_secs(1)).await;
    open.iter().for_each(AbortHandle::abort);
}

/// Ends the oldest of the connections that are known least, as long as they are not of people who were let in.
fn make_room(held: &mut VecDeque<Held>, count: usize) {
    for _ in 0..count {
        let oldest = |level| held.iter().position(|one| one.known.level() == level);
        let Some(one) = oldest(0).or(oldest(ASKED)).and_then(|at| held.remove(at)) else {
            return;
        };
        one.task.abort();
    }
}

async fn one<S>(stream: TcpStream, service: S)
where
    S: hyper::service::Service<
            hyper::Request<Incoming>,
            Response = axum::response::Response,
            Error = std::convert::Infallible,
        >,
{
    let _ = stream.set_nodelay(true);
    // A connection that breaks is the other side's trouble.
    let _ = hyper::server::conn::http1::Builder::new()
        .timer(TokioTimer::new())
        .header_read_timeout(HEAD_TIME)
        .max_buf_size(64 << 10)
        .serve_connection(TokioIo::new(stream), service)
        .await;
}
