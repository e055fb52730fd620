//! Listens, hands connections to the router, and ends without cutting off what still runs.
//!
//! axum's own loop sets no limit to how long a client may take over its headers, so connections are served with hyper
//! directly.

use super::ServeOptions;
use super::routes::router;
use super::state::ServerState;
use crate::error::{Error, Result};
use axum::Router;
use hyper_util::rt::{TokioIo, TokioTimer};
use hyper_util::server::graceful::GracefulShutdown;
use hyper_util::service::TowerToHyperService;
use std::net::SocketAddr;
use std::sync::Arc;
use std::time::Duration;
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::{OwnedSemaphorePermit, Semaphore};
use tokio::task::JoinSet;

/// Maximum wait for the headers of a request, also between two requests of one connection.
const MAX_HEADERS_WAIT: Duration = Duration::from_secs(10);
/// Connections at once [-]; further ones wait.
const MAX_CONNECTIONS: usize = 512;
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
    let (graceful, permits) = (GracefulShutdown::new(), Arc::new(Semaphore::new(MAX_CONNECTIONS)));
    let mut running = JoinSet::new();
    tokio::pin!(stop);
    loop {
        tokio::select! {
            () = &mut stop => break,
            Some(_) = running.join_next() => {}
            (stream, permit) = next(&listener, &permits) => {
                running.spawn(connection(stream, router.clone(), &graceful, permit));
            }
        }
    }
    drop(listener);
    // what is still running after that is dropped, which stops its computation
    drop(tokio::time::timeout(GRACE, graceful.shutdown()).await);
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

fn connection(
    stream: TcpStream,
    router: Router,
    graceful: &GracefulShutdown,
    permit: Option<OwnedSemaphorePermit>,
) -> impl Future<Output = ()> + use<> {
    // a response goes out as soon as it is there; where that cannot be set it comes a little later
    drop(stream.set_nodelay(true));
    let served = hyper::server::conn::http1::Builder::new()
        .timer(TokioTimer::new())
        .header_read_timeout(MAX_HEADERS_WAIT)
        .max_buf_size(64 << 10)
        .serve_connection(TokioIo::new(stream), TowerToHyperService::new(router));
    let served = graceful.watch(served);
    async move {
        // a client that went away is no error
        drop(served.await);
        drop(permit);
    }
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
