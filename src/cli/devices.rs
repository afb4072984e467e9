//! `devices`: what is paired with this machine's pages, sending it away, and the certificate that it sees.

use super::args_devices::Devices as Args;
use crate::app::network::{self, day};
use crate::app::terminal::{aside, tell};
use crate::app::{now_ms, settings};
use crate::web::{self, Device, Devices};
use anyhow::{Context, Result, bail};
use std::process::ExitCode;

pub(super) fn run(args: &Args) -> Result<ExitCode> {
    let kept = settings::kept()
        .context("there is no settings folder: set HOME, or BENCHCALL_SETTINGS to a folder")?;
    if args.forget_certificate {
        let there = web::forget_certificate(kept.as_ref())?;
        anyhow::ensure!(there, "there is no certificate of your own");
        aside("The bench shows its own certificate when the network is opened the next time.");
    }
    if args.renew_certificate {
        web::renew_certificate(kept.as_ref())?;
        aside(
            "The certificate and its root are made anew when the network is opened the next time. \
             On each phone that trusts the bench, remove the old root and trust the new one.",
        );
    }
    let certificate = web::certificate_now(kept.as_ref());
    let mut devices = Devices::kept_in(kept)?;
    if args.remove_all {
        for device in devices.all() {
            devices.remove(device.id)?;
        }
    }
    if let Some(id) = args.remove {
        there(devices.remove(id)?, id, &mut devices)?;
    }
    if let Some(renamed) = &args.rename {
        let [id, name] = renamed.as_slice() else {
            bail!("--rename takes a number and a name");
        };
        let id = id.parse().with_context(|| {
            format!("\"{id}\" is not the number of a device; expected one from the list")
        })?;
        anyhow::ensure!(!name.trim().is_empty(), "a device needs a name");
        there(devices.rename(id, name)?, id, &mut devices)?;
    }
    show(&devices.all(), args.json);
    match certificate {
        _ if args.json => {}
        Ok(Some(now)) => {
            outln!("Certificate: {}", network::in_words_of_its_end(&now));
            let warning = network::warning(&now, now_ms());
            if !warning.is_empty() {
                tell(&warning);
            }
        }
        Ok(None) => {}
        Err(why) => tell(&why.to_string()),
    }
    Ok(ExitCode::SUCCESS)
}

fn there(there: bool, id: u64, devices: &mut Devices) -> Result<()> {
    if there {
        return Ok(());
    }
    let ids: Vec<String> = devices.all().iter().map(|d| d.id.to_string()).collect();
    match ids.as_slice() {
        [] => bail!("there is no device {id}: none is paired"),
        ids => bail!("there is no device {id}; paired are {}", ids.join(", ")),
    }
}

fn show(devices: &[Device], json: bool) {
    if json {
        let one = |d: &Device| {
            serde_json::json!({
                "id": d.id, "name": d.name, "paired_ms": d.paired_ms, "until_ms": d.until_ms(),
            })
        };
        let all: Vec<serde_json::Value> = devices.iter().map(one).collect();
        return outln!("{}", serde_json::Value::from(all));
    }
    if devices.is_empty() {
        outln!("No device is paired.");
    }
    for device in devices {
        let (paired, until) = (day(device.paired_ms), day(device.until_ms()));
        let (id, name) = (device.id, &device.name);
        outln!("{id:>3}  {name}  (paired {paired}, until {until})");
    }
}
