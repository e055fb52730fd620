//! Listens, hands connections to the router, and ends without cutting off what still runs.
//!
//! axum's own loop sets no limit to how long a client may take over its headers, so connections are served with hyper
//! directly.

use super::ServeOptions;
use super::routes::router;
use super::state::ServerState;
use super::write_timeout::WriteTimeout;
use crate::error::{Error, Result};
use axum::Router;
use hyper_util::rt::{TokioIo, TokioTimer};
use hyper_util::service::TowerToHyperService;
use std::net::SocketAddr;
use std::sync::Arc;
use std::time::Duration;
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::{OwnedSemaphorePermit, Semaphore, watch};
use tokio::task::JoinSet;

/// Maximum wait for the headers of a request, also between two requests of one connection.
const MAX_HEADERS_WAIT: Duration = Duration::from_secs(10);
/// Connections at once [-]; further ones wait.
const MAX_CONNECTIONS: usize = 512;
/// How long a connection takes requests; one that is running then is still answered.
const MAX_LIFE: Duration = Duration::from_mins(10);
/// Maximum wait for the last answer of a connection, more than any request may wait and compute.
const MAX_LAST: Duration = Duration::from_mins(5);
/// How long running requests may go on after a signal to end.
const GRACE: Duration = Duration::from_secs(3);
/// How long computations may take to see that they were stopped.
const AFTERMATH: Duration = Duration::from_secs(5);

/// Serves until the process receives a signal to end.
pub(super) fn run(
    options: ServeOptions,
    announce: impl FnOnce(SocketAddr) -> std::io::Result<()>,
) -> Result<()> {
    let runtime = tokio::runtime::Builder::new_multi_thread().worker_threads(2).enable_all().build();
    let runtime = runtime.map_err(|error| Error::invalid("threads", error.to_string(), "two threads"))?;
    let done = runtime.block_on(serve(options, announce));
    runtime.shutdown_timeout(AFTERMATH);
    done
}

async fn serve(
    options: ServeOptions,
    announce: impl FnOnce(SocketAddr) -> std::io::Result<()>,
) -> Result<()> {
    let wanted = SocketAddr::new(options.bind, options.port);
    let refused = |error: std::io::Error| {
        Error::invalid(format!("address {wanted}"), error.to_string(), "a free port; --port 0 takes any")
    };
    // before the address is announced, so that a signal right after is not missed
    let stop = stop_signal().map_err(refused)?;
    let listener = TcpListener::bind(wanted).await.map_err(refused)?;
    let address = listener.local_addr().map_err(refused)?;
    let router = router(&ServerState::new(options, address)?);
    announce(address).map_err(|source| Error::Io { path: "standard output".into(), source })?;
    accept(listener, router, stop).await;
    Ok(())
}

async fn accept(listener: TcpListener, router: Router, stop: impl Future<Output = ()>) {
    let ((ending, ended), permits) = (watch::channel(()), Arc::new(Semaphore::new(MAX_CONNECTIONS)));
    let mut running = JoinSet::new();
    tokio::pin!(stop);
    loop {
        tokio::select! {
            () = &mut stop => break,
            Some(_) = running.join_next() => {}
            (stream, permit) = next(&listener, &permits) => {
                running.spawn(connection(stream, router.clone(), ended.clone(), permit));
            }
        }
    }
    drop(listener);
    // what is still running after that is dropped, which stops its computation
    drop(ending);
    drop(tokio::time::timeout(GRACE, async { while running.join_next().await.is_some() {} }).await);
    running.shutdown().await;
}

/// The next connection, once there are few enough.
async fn next(listener: &TcpListener, permits: &Arc<Semaphore>) -> (TcpStream, Option<OwnedSemaphorePermit>) {
    let permit = permits.clone().acquire_owned().await.ok();
    loop {
        match listener.accept().await {
            Ok((stream, _)) => return (stream, permit),
            // such as too many open files: the next try may do
            Err(_) => tokio::time::sleep(Duration::from_millis(50)).await,
        }
    }
}

/// Answers the requests of a connection until it is closed, has lived long enough, or the server ends; its place among the
/// connections is free after that.
async fn connection(
    stream: TcpStream,
    router: Router,
    mut ended: watch::Receiver<()>,
    _place: Option<OwnedSemaphorePermit>,
) {
    // a response goes out as soon as it is there; where that cannot be set it comes a little later
    drop(stream.set_nodelay(true));
    let served = hyper::server::conn::http1::Builder::new()
        .timer(TokioTimer::new())
        .header_read_timeout(MAX_HEADERS_WAIT)
        .max_buf_size(64 << 10)
        .serve_connection(TokioIo::new(WriteTimeout::new(stream)), TowerToHyperService::new(router));
    let mut served = std::pin::pin!(served);
    tokio::select! {
        // a client that went away is no error
        _ = served.as_mut() => return,
        _ = ended.changed() => {}
        () = tokio::time::sleep(MAX_LIFE) => {}
    }
    served.as_mut().graceful_shutdown();
    drop(tokio::time::timeout(MAX_LAST, served).await);
}

/// Ends when the process receives a signal to end.
fn stop_signal() -> std::io::Result<impl Future<Output = ()>> {
    #[cfg(unix)]
    let mut terminate = tokio::signal::unix::signal(tokio::signal::unix::SignalKind::terminate())?;
    #[cfg(unix)]
    let mut interrupt = tokio::signal::unix::signal(tokio::signal::unix::SignalKind::interrupt())?;
    Ok(async move {
        #[cfg(unix)]
        tokio::select! { _ = terminate.recv() => {}, _ = interrupt.recv() => {} }
        #[cfg(not(unix))]
        drop(tokio::signal::ctrl_c().await);
    })
}
