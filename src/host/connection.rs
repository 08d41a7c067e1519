//! One connection to an instrument: opened, read with short waits, ended.
//!
//! Never in here: lines. Changes when an instrument can be reached otherwise.

use std::io::{self, Read};
use std::net::{TcpStream, ToSocketAddrs};
use std::path::Path;
use std::process::{Child, ChildStdout, Command, Stdio};
use std::time::Duration;

use super::speaker::Speaker;

/// How long it is waited for bytes before it is looked whether anybody still listens.
pub(super) const WAIT: Duration = Duration::from_millis(200);
/// How long another machine may take to answer.
const CONNECT: Duration = Duration::from_secs(3);

/// What a read gave.
pub(super) enum Got {
    /// So many bytes.
    Bytes(usize),
    /// Nothing yet.
    Nothing,
    /// There will be nothing more; why, where that is a fault.
    End(Option<String>),
}

/// A connection under way.
pub(super) enum Connection {
    #[cfg(unix)]
    Serial(super::serial::SerialLine),
    Tcp(TcpStream),
    Command(Running),
}

impl Connection {
    /// Connects; `folder` is where commands run.
    pub(super) fn open(speaker: &Speaker, folder: &Path) -> io::Result<Self> {
        match speaker {
            #[cfg(unix)]
            Speaker::Serial(line) => super::serial::SerialLine::open(line).map(Self::Serial),
            #[cfg(not(unix))]
            Speaker::Serial(..) => Err(io::Error::new(
                io::ErrorKind::Unsupported,
                "serial lines can't be read on this system",
            )),
            Speaker::Tcp(address) => dial(address).map(Self::Tcp),
            Speaker::Command(words) => Running::start(words, folder).map(Self::Command),
        }
    }

    pub(super) fn read(&mut self, bytes: &mut [u8]) -> io::Result<Got> {
        match self {
            #[cfg(unix)]
            Self::Serial(line) => line.read(bytes),
            Self::Tcp(stream) => match stream.read(bytes) {
                Ok(0) => Ok(Got::End(Some("the other side has closed it".to_owned()))),
                Ok(n) => Ok(Got::Bytes(n)),
                Err(e) if is_wait(&e) => Ok(Got::Nothing),
                Err(e) => Err(e),
            },
            Self::Command(running) => running.read(bytes),
        }
    }
}

/// Whether a read only came to the end of its wait.
pub(super) fn is_wait(error: &io::Error) -> bool {
    matches!(
        error.kind(),
        io::ErrorKind::WouldBlock | io::ErrorKind::TimedOut
    )
}

fn dial(address: &str) -> io::Result<TcpStream> {
    let mut last = io::Error::new(io::ErrorKind::NotFound, "no such host");
    for one in address.to_socket_addrs()? {
        match TcpStream::connect_timeout(&one, CONNECT) {
            Ok(stream) => {
                stream.set_read_timeout(Some(WAIT))?;
                return Ok(stream);
            }
            Err(error) => last = error,
        }
    }
    Err(last)
}

/// A command that runs; it ends with the connection.
pub(super) struct Running {
    child: Child,
    output: ChildStdout,
}

impl Running {
    fn start(words: &[String], folder: &Path) -> io::Result<Self> {
        let (program, rest) = words
            .split_first()
            .ok_or_else(|| io::Error::new(io::ErrorKind::InvalidInput, "the command is empty"))?;
        let mut command = Command::new(program);
        command.args(rest).current_dir(folder);
        // What is typed is for the session, and a complaint would stand in the middle of a question.
        command
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::null());
        let mut child = command.spawn()?;
        let output = child.stdout.take();
        let output = output.ok_or_else(|| io::Error::other("the command has no output"))?;
        Ok(Self { child, output })
    }

    fn read(&mut self, bytes: &mut [u8]) -> io::Result<Got> {
        // Elsewhere it is waited for the command's next line, or for its end.
        #[cfg(unix)]
        if !super::serial::is_ready(&self.output)? {
            return Ok(Got::Nothing);
        }
        match self.output.read(bytes)? {
            0 => self.ended().map(Got::End),
            n => Ok(Got::Bytes(n)),
        }
    }

    /// How it ended.
    fn ended(&mut self) -> io::Result<Option<String>> {
        let status = self.child.wait()?;
        Ok((!status.success()).then(|| format!("the command ended with {status}")))
    }
}

impl Drop for Running {
    fn drop(&mut self) {
        // One that has ended already can't be ended again.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}
