//! A connection whose client has to take what it requested: one that reads nothing is closed after a while.

use std::io::{Error, ErrorKind, IoSlice, Result};
use std::pin::Pin;
use std::task::{Context, Poll};
use std::time::Duration;
use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};
use tokio::net::TcpStream;
use tokio::time::{Sleep, sleep};

/// Maximum time in which a client takes nothing of what is there for it.
const MAX_STALL: Duration = Duration::from_secs(20);

/// A stream that fails when nothing could be written for so long.
pub(super) struct WriteTimeout {
    stream: TcpStream,
    /// Runs out while the client takes nothing.
    stall: Option<Pin<Box<Sleep>>>,
}

impl WriteTimeout {
    pub(super) fn new(stream: TcpStream) -> Self {
        Self { stream, stall: None }
    }

    /// What became of writing; an error once the client has taken nothing for too long.
    fn timed<T>(&mut self, context: &mut Context, written: Poll<Result<T>>) -> Poll<Result<T>> {
        if written.is_ready() {
            self.stall = None;
            return written;
        }
        let stall = self.stall.get_or_insert_with(|| Box::pin(sleep(MAX_STALL)));
        stall.as_mut().poll(context).map(|()| Err(Error::from(ErrorKind::TimedOut)))
    }
}

impl AsyncRead for WriteTimeout {
    fn poll_read(mut self: Pin<&mut Self>, context: &mut Context, buffer: &mut ReadBuf) -> Poll<Result<()>> {
        Pin::new(&mut self.stream).poll_read(context, buffer)
    }
}

impl AsyncWrite for WriteTimeout {
    fn poll_write(mut self: Pin<&mut Self>, context: &mut Context, bytes: &[u8]) -> Poll<Result<usize>> {
        let written = Pin::new(&mut self.stream).poll_write(context, bytes);
        self.timed(context, written)
    }

    fn poll_write_vectored(
        mut self: Pin<&mut Self>,
        context: &mut Context,
        parts: &[IoSlice],
    ) -> Poll<Result<usize>> {
        let written = Pin::new(&mut self.stream).poll_write_vectored(context, parts);
        self.timed(context, written)
    }

    fn is_write_vectored(&self) -> bool {
        self.stream.is_write_vectored()
    }

    fn poll_flush(mut self: Pin<&mut Self>, context: &mut Context) -> Poll<Result<()>> {
        Pin::new(&mut self.stream).poll_flush(context)
    }

    fn poll_shutdown(mut self: Pin<&mut Self>, context: &mut Context) -> Poll<Result<()>> {
        Pin::new(&mut self.stream).poll_shutdown(context)
    }
}
