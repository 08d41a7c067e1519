//! A serial line as Unix has it: raw, one stop bit.
//!
//! Never in here: lines of text. Changes when a line needs another setting.

use std::fs::{File, OpenOptions};
use std::io::{self, Read};
use std::os::fd::AsFd;
use std::os::unix::fs::OpenOptionsExt;

use rustix::event::{PollFd, PollFlags, Timespec, poll};
use rustix::fs::OFlags;
use rustix::termios::{
    ControlModes, InputModes, OptionalActions, QueueSelector, Termios, tcflush, tcgetattr,
    tcsetattr,
};

use super::connection::{Got, WAIT, is_wait};
use super::speaker::{Line, Parity};

/// An open line.
pub(super) struct SerialLine(File);

impl SerialLine {
    /// Opens a line and forgets what waits in it: nobody knows when that was said.
    pub(super) fn open(line: &Line) -> io::Result<Self> {
        let flags = OFlags::NOCTTY | OFlags::NONBLOCK;
        let file = OpenOptions::new()
            .read(true)
            .custom_flags(flags.bits().cast_signed())
            .open(&line.path)?;
        let mut settings = tcgetattr(&file)
            .map_err(|_| io::Error::new(io::ErrorKind::InvalidInput, "it is no serial line"))?;
        set(&mut settings, line)?;
        tcsetattr(&file, OptionalActions::Now, &settings)?;
        tcflush(&file, QueueSelector::IFlush)?;
        Ok(Self(file))
    }

    pub(super) fn read(&mut self, bytes: &mut [u8]) -> io::Result<Got> {
        if !is_ready(&self.0)? {
            return Ok(Got::Nothing);
        }
        match self.0.read(bytes) {
            Ok(0) => Ok(Got::End(Some("the line was unplugged".to_owned()))),
            Ok(n) => Ok(Got::Bytes(n)),
            Err(e) if is_wait(&e) => Ok(Got::Nothing),
            Err(e) => Err(e),
        }
    }
}

fn set(settings: &mut Termios, line: &Line) -> io::Result<()> {
    settings.make_raw();
    let modes = &mut settings.control_modes;
    modes.remove(ControlModes::CSTOPB | ControlModes::CSIZE);
    modes.remove(ControlModes::PARENB | ControlModes::PARODD);
    modes.insert(ControlModes::CLOCAL | ControlModes::CREAD);
    modes.insert(match line.bits {
        7 => ControlModes::CS7,
        _ => ControlModes::CS8,
    });
    if line.parity != Parity::None {
        modes.insert(ControlModes::PARENB);
        // A byte whose parity is wrong is read as 0, never left out: `12.3` must not become `1.3`.
        settings.input_modes.insert(InputModes::INPCK);
    }
    if line.parity == Parity::Odd {
        settings.control_modes.insert(ControlModes::PARODD);
    }
    Ok(settings.set_speed(line.baud)?)
}

/// Waits shortly; whether there is something to read, or the end.
pub(super) fn is_ready(from: impl AsFd) -> io::Result<bool> {
    let wait = Timespec {
        tv_sec: 0,
        tv_nsec: i64::from(WAIT.subsec_nanos()),
    };
    Ok(poll(&mut [PollFd::new(&from, PollFlags::IN)], Some(&wait))? > 0)
}
