//! Sound devices of this computer through cpal: finding them and naming faults.

mod capture;
mod playback;

pub use capture::HardwareMicrophone;
pub use playback::HardwareSpeaker;

use super::Error;
use cpal::traits::{DeviceTrait, HostTrait};
use cpal::{Device, ErrorKind};
use std::sync::atomic::{AtomicU8, Ordering};

const MICROPHONE: &str = "microphone";
const LOUDSPEAKER: &str = "loudspeaker";

/// The names of the microphones, in the system's order.
///
/// # Errors
/// [`Error::Driver`] when there is no sound system.
pub fn microphones() -> Result<Vec<String>, Error> {
    let devices = cpal::default_host().input_devices();
    Ok(devices
        .map_err(|e| named(&e, MICROPHONE, "all"))?
        .filter(is_device)
        .map(|d| name_of(&d))
        .collect())
}

/// The names of the loudspeakers, in the system's order.
///
/// # Errors
/// [`Error::Driver`] when there is no sound system.
pub fn speakers() -> Result<Vec<String>, Error> {
    let devices = cpal::default_host().output_devices();
    Ok(devices
        .map_err(|e| named(&e, LOUDSPEAKER, "all"))?
        .filter(is_device)
        .map(|d| name_of(&d))
        .collect())
}

/// What ALSA lists beside devices: a sink for nothing, and converters of rates and channels.
const CONVERTERS: [&str; 7] = [
    "null",
    "lavrate",
    "samplerate",
    "speexrate",
    "speex",
    "upmix",
    "vdownmix",
];

/// Whether it is a device, or a server that stands for one.
fn is_device(device: &Device) -> bool {
    let description = device.description().ok();
    let driver = description.as_ref().and_then(|d| d.driver());
    !driver.is_some_and(|driver| CONVERTERS.contains(&driver))
}

fn name_of(device: &Device) -> String {
    match device.description() {
        Ok(description) => description.name().to_owned(),
        Err(_) => "(nameless)".to_owned(),
    }
}

/// The device of that name, or the system's default one, with its name.
fn find(what: &'static str, wanted: Option<&str>) -> Result<(Device, String), Error> {
    let host = cpal::default_host();
    let all = || -> Result<Vec<Device>, cpal::Error> {
        match what {
            MICROPHONE => Ok(host.input_devices()?.filter(is_device).collect()),
            _ => Ok(host.output_devices()?.filter(is_device).collect()),
        }
    };
    let Some(wanted) = wanted else {
        let default = match what {
            MICROPHONE => host.default_input_device(),
            _ => host.default_output_device(),
        };
        let none = || Error::NoDevice {
            what,
            wanted: String::new(),
            there: String::new(),
        };
        let device = default.ok_or_else(none)?;
        let name = name_of(&device);
        // ALSA names a default device even where the machine has no sound card.
        let offered = match what {
            MICROPHONE => device.default_input_config(),
            _ => device.default_output_config(),
        };
        if let Err(error) = offered {
            return Err(match error.kind() {
                ErrorKind::DeviceNotAvailable => none(),
                _ => named(&error, what, &name),
            });
        }
        return Ok((device, name));
    };
    let devices = all().map_err(|e| named(&e, what, wanted))?;
    let names: Vec<String> = devices.iter().map(name_of).collect();
    let at = choose(what, &names, wanted)?;
    devices
        .into_iter()
        .zip(names)
        .nth(at)
        .ok_or_else(|| Error::Unplugged {
            what,
            name: wanted.into(),
        })
}

/// Which of the names is meant: the one that is the same but for case, else the
/// only one that contains it.
fn choose(what: &'static str, names: &[String], wanted: &str) -> Result<usize, Error> {
    let key = wanted.to_lowercase();
    if let Some(at) = names.iter().position(|name| name.to_lowercase() == key) {
        return Ok(at);
    }
    let fits = |(at, name): (usize, &String)| name.to_lowercase().contains(&key).then_some(at);
    let found: Vec<usize> = names.iter().enumerate().filter_map(fits).collect();
    match found[..] {
        [at] => Ok(at),
        [] => Err(Error::NoDevice {
            what,
            wanted: format!(" called \"{wanted}\""),
            there: match names {
                [] => String::new(),
                _ => format!("; there are: {}", names.join(", ")),
            },
        }),
        _ => Err(Error::SeveralDevices {
            what,
            wanted: wanted.into(),
            found: found
                .iter()
                .map(|&at| names[at].as_str())
                .collect::<Vec<_>>()
                .join(", "),
        }),
    }
}

/// The driver's error as one that says what to do.
fn named(error: &cpal::Error, what: &'static str, name: &str) -> Error {
    let name = name.to_owned();
    match error.kind() {
        ErrorKind::DeviceNotAvailable => Error::Unplugged { what, name },
        ErrorKind::DeviceBusy => Error::Busy { what, name },
        ErrorKind::PermissionDenied => Error::PermissionDenied { what, name },
        ErrorKind::UnsupportedConfig => Error::Format {
            what,
            name,
            detail: error.to_string(),
        },
        _ => Error::Driver {
            what,
            name,
            detail: error.to_string(),
        },
    }
}

/// The last fault the driver reported, handed over without a lock.
#[derive(Default)]
struct Fault(AtomicU8);

impl Fault {
    /// Called by the driver's thread; harmless notices are passed over.
    fn set(&self, kind: ErrorKind) {
        let code = match kind {
            ErrorKind::Xrun | ErrorKind::DeviceChanged | ErrorKind::RealtimeDenied => return,
            ErrorKind::DeviceNotAvailable => 1,
            ErrorKind::StreamInvalidated => 2,
            _ => 3,
        };
        self.0.store(code, Ordering::Release);
    }

    fn check(&self, what: &'static str, name: &str) -> Result<(), Error> {
        let name = name.to_owned();
        match self.0.load(Ordering::Acquire) {
            0 => Ok(()),
            1 => Err(Error::Unplugged { what, name }),
            2 => Err(Error::Driver {
                what,
                name,
                detail: "its settings were changed".into(),
            }),
            _ => Err(Error::Driver {
                what,
                name,
                detail: "the driver stopped".into(),
            }),
        }
    }
}

/// Calls `$open::<T>($args)` with the type of the device's samples.
macro_rules! with_sample_type {
    ($format:expr, $open:ident($($arg:expr),*), $else:expr) => {
        match $format {
            cpal::SampleFormat::I8 => $open::<i8>($($arg),*),
            cpal::SampleFormat::I16 => $open::<i16>($($arg),*),
            cpal::SampleFormat::I24 => $open::<cpal::I24>($($arg),*),
            cpal::SampleFormat::I32 => $open::<i32>($($arg),*),
            cpal::SampleFormat::I64 => $open::<i64>($($arg),*),
            cpal::SampleFormat::U8 => $open::<u8>($($arg),*),
            cpal::SampleFormat::U16 => $open::<u16>($($arg),*),
            cpal::SampleFormat::U24 => $open::<cpal::U24>($($arg),*),
            cpal::SampleFormat::U32 => $open::<u32>($($arg),*),
            cpal::SampleFormat::U64 => $open::<u64>($($arg),*),
            cpal::SampleFormat::F32 => $open::<f32>($($arg),*),
            cpal::SampleFormat::F64 => $open::<f64>($($arg),*),
            _ => $else,
        }
    };
}
use with_sample_type;

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn a_device_is_chosen_by_its_name_or_a_part_that_is_enough() {
        let names: Vec<String> = ["Headset", "Headset Monitor", "Line In"]
            .map(String::from)
            .into();
        let pick = |wanted| choose(MICROPHONE, &names, wanted);
        assert_eq!(pick("headset"), Ok(0));
        assert_eq!(pick("MONITOR"), Ok(1));
        assert_eq!(
            pick("head").unwrap_err().to_string(),
            "\"head\" fits several microphones: Headset, Headset Monitor; give more of the name"
        );
        assert_eq!(
            pick("usb").unwrap_err().to_string(),
            "there is no microphone called \"usb\"; there are: Headset, Headset Monitor, Line In. \
             Plug one in or choose another"
        );
    }

    #[test]
    fn driver_faults_become_what_to_do() {
        let text = |kind| named(&cpal::Error::new(kind), LOUDSPEAKER, "Front").to_string();
        assert!(text(ErrorKind::DeviceBusy).contains("close that one and try again"));
        assert!(text(ErrorKind::PermissionDenied).contains("privacy settings"));
        let fault = Fault::default();
        fault.set(ErrorKind::Xrun);
        assert_eq!(fault.check(MICROPHONE, "Front"), Ok(()));
        fault.set(ErrorKind::DeviceNotAvailable);
        let unplugged = Error::Unplugged {
            what: MICROPHONE,
            name: "Front".into(),
        };
        assert_eq!(fault.check(MICROPHONE, "Front"), Err(unplugged));
    }
}
