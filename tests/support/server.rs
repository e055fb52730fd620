//! Starts the built server on a free port and sends it requests, byte by byte where need be.

use std::io::{BufRead as _, BufReader, Read as _, Write as _};
use std::net::TcpStream;
use std::process::{Child, Command, Stdio};
use std::time::Duration;

/// A running server; ends with the test.
pub(crate) struct Server {
    child: Child,
    /// Host and port.
    pub(crate) host: String,
}

/// A response.
pub(crate) struct Reply {
    pub(crate) status: u16,
    /// Status line and headers, names in small letters.
    pub(crate) head: String,
    pub(crate) body: String,
}

impl Reply {
    pub(crate) fn json(&self) -> serde_json::Value {
        serde_json::from_str(&self.body).unwrap_or_else(|error| panic!("{error}: {}{}", self.head, self.body))
    }

    /// The body as problem details of this status.
    pub(crate) fn assert_problem(&self, status: u16) -> serde_json::Value {
        assert_eq!(self.status, status, "{}{}", self.head, self.body);
        assert!(self.head.contains("content-type: application/problem+json"), "{}", self.head);
        let problem = self.json();
        assert_eq!(problem["status"], status);
        problem
    }
}

impl Server {
    pub(crate) fn start(more: &[&str]) -> Self {
        let mut child = Command::new(env!("CARGO_BIN_EXE_ferrowane"))
            .args(["serve", "--port", "0"])
            .args(more)
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        let mut line = String::new();
        BufReader::new(child.stdout.take().unwrap()).read_line(&mut line).unwrap();
        let address = line.trim().strip_prefix("ferrowane serves on http://").unwrap().to_owned();
        Self { child, host: address.trim_end_matches('/').to_owned() }
    }

    /// An open connection.
    pub(crate) fn connected(&self) -> TcpStream {
        let stream = TcpStream::connect(&self.host).unwrap();
        // longer than the server computes for any request
        stream.set_read_timeout(Some(Duration::from_mins(4))).unwrap();
        stream
    }

    /// Sends a request with headers of the caller's own, which replace the usual ones of that name.
    pub(crate) fn send(&self, method: &str, path: &str, headers: &[(&str, &str)], body: &str) -> Reply {
        let mut stream = self.connected();
        // a server that refuses early may close before everything is sent
        drop(stream.write_all(self.request((method, path), headers, body).as_bytes()));
        read(stream)
    }

    pub(crate) fn request(
        &self,
        (method, path): (&str, &str),
        headers: &[(&str, &str)],
        body: &str,
    ) -> String {
        let length = body.len().to_string();
        let usual =
            [("Host", self.host.as_str()), ("Content-Type", "application/json"), ("Content-Length", &length)];
        let own = |name: &str| headers.iter().any(|(given, _)| given.eq_ignore_ascii_case(name));
        let usual = usual.iter().filter(|(name, _)| !own(name));
        let lines = usual.chain(headers).map(|(name, value)| format!("{name}: {value}\r\n"));
        let lines: String = lines.collect();
        format!("{method} {path} HTTP/1.1\r\n{lines}Connection: close\r\n\r\n{body}")
    }

    pub(crate) fn get(&self, path: &str) -> Reply {
        self.send("GET", path, &[], "")
    }

    pub(crate) fn post(&self, path: &str, body: &serde_json::Value) -> Reply {
        self.send("POST", path, &[], &body.to_string())
    }

    /// Number of the process.
    pub(crate) fn id(&self) -> u32 {
        self.child.id()
    }

    /// Signals the process to end and returns its exit code.
    pub(crate) fn end(&mut self) -> Option<i32> {
        Command::new("kill").args(["-TERM", &self.child.id().to_string()]).status().unwrap();
        self.child.wait().unwrap().code()
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        drop(self.child.kill());
        drop(self.child.wait());
    }
}

/// What comes back on a connection until it is closed.
pub(crate) fn read(mut stream: TcpStream) -> Reply {
    let mut bytes = Vec::new();
    drop(stream.read_to_end(&mut bytes));
    let text = String::from_utf8_lossy(&bytes).into_owned();
    let (head, body) = text.split_once("\r\n\r\n").unwrap_or((&text, ""));
    let status = head.split(' ').nth(1).and_then(|status| status.parse().ok()).unwrap_or(0);
    Reply { status, head: head.to_ascii_lowercase(), body: body.to_owned() }
}
