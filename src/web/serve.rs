//! The server: its socket, its threads, TLS, and limits on what a client may hold.

use super::routes::router;
use super::shared::Shared;
use super::{Backend, Error, Live, Pairing, PhoneLink, gate, tls};
use axum::Router;
use hyper_util::rt::{TokioIo, TokioTimer};
use hyper_util::service::TowerToHyperService;
use std::net::{IpAddr, Ipv4Addr, SocketAddr};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};
use tokio::io::{AsyncRead, AsyncWrite};
use tokio::net::{TcpListener, TcpStream};
use tokio::runtime::Runtime;
use tokio::sync::Semaphore;
use tokio_rustls::TlsAcceptor;

/// Connections at a time; more are closed at once.
const CONNECTIONS: usize = 512;
/// How long a client may take for the TLS handshake, and for the head of a request.
const PATIENCE: Duration = Duration::from_secs(10);

/// What is served, and to whom.
pub struct Options {
    /// On the local network, over TLS; `Some(None)` finds the address itself. Without it on this
    /// machine alone. Paired must be both.
    pub lan: Option<Option<IpAddr>>,
    /// 0 for any free one.
    pub port: u16,
    /// Where the pages get what they show.
    pub backend: Arc<dyn Backend>,
    /// The board; without it the review is the first page.
    pub live: Option<Live>,
    /// A phone may be the microphone.
    pub phone: Option<PhoneLink>,
    /// Is told the code that lets the next device in, at the start and whenever it changes.
    pub on_code: Box<dyn Fn(&str) + Send + Sync>,
}

/// A server at work. Dropping it ends it.
pub(crate) struct Server {
    address: SocketAddr,
    scheme: &'static str,
    fingerprint: Option<String>,
    runtime: Option<Runtime>,
}

impl Server {
    /// Starts serving.
    ///
    /// # Errors
    /// [`Error`]: the port, the network, the certificate.
    pub(crate) fn start(options: Options) -> Result<Self, Error> {
        let lan = options.lan.is_some();
        let ip = match options.lan {
            None => IpAddr::V4(Ipv4Addr::LOCALHOST),
            Some(Some(ip)) => ip,
            Some(None) => tls::lan_address()?,
        };
        let (acceptor, fingerprint) = if lan {
            tls::acceptor(ip).map(|(a, f)| (Some(a), Some(f)))?
        } else {
            (None, None)
        };
        let runtime = tokio::runtime::Builder::new_multi_thread()
            .worker_threads(1)
            .max_blocking_threads(8)
            .thread_name("web")
            .enable_all()
            .build()
            .map_err(Error::Threads)?;
        let wanted = SocketAddr::new(ip, options.port);
        let bind = |source| Error::Bind {
            address: wanted.to_string(),
            source,
        };
        let listener = runtime.block_on(TcpListener::bind(wanted)).map_err(bind)?;
        let address = listener.local_addr().map_err(bind)?;
        let port = address.port();
        let mut hosts = vec![address.to_string()];
        if ip.is_loopback() {
            hosts.extend([format!("localhost:{port}"), format!("127.0.0.1:{port}")]);
        }
        let shared = Arc::new(Shared {
            backend: options.backend,
            live: options.live,
            phone: options.phone,
            scheme: if lan { "https" } else { "http" },
            hosts,
            pairing: Mutex::new(if lan {
                Pairing::typed(Instant::now())?
            } else {
                Pairing::linked(Instant::now())?
            }),
            // Cookies know no ports: without one in the name, two benches of one machine would
            // take each other's. Without TLS not every browser keeps one that is `Secure`.
            cookie: if lan {
                (gate::COOKIE.to_owned(), "; Secure")
            } else {
                (format!("benchcall-{port}"), "")
            },
            on_code: options.on_code,
        });
        shared.show_code();
        let scheme = shared.scheme;
        runtime.spawn(accept(listener, acceptor, router(shared)));
        Ok(Self {
            address,
            scheme,
            fingerprint,
            runtime: Some(runtime),
        })
    }

    /// The address to open.
    #[must_use]
    pub(crate) fn url(&self) -> String {
        format!("{}://{}/", self.scheme, self.address)
    }

    /// Address and port.
    #[cfg(test)]
    #[must_use]
    pub(crate) const fn address(&self) -> SocketAddr {
        self.address
    }

    /// SHA-256 of the certificate, as browsers show it; `None` without TLS.
    #[must_use]
    pub(crate) fn fingerprint(&self) -> Option<&str> {
        self.fingerprint.as_deref()
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        if let Some(runtime) = self.runtime.take() {
            runtime.shutdown_background();
        }
    }
}

async fn accept(listener: TcpListener, tls: Option<TlsAcceptor>, router: Router) {
    let room = Arc::new(Semaphore::new(CONNECTIONS));
    loop {
        let Ok((stream, _)) = listener.accept().await else {
            // Out of file handles, say: wait for some to come back.
            tokio::time::sleep(Duration::from_millis(100)).await;
            continue;
        };
        let Ok(place) = room.clone().try_acquire_owned() else {
            continue;
        };
        let (tls, router) = (tls.clone(), router.clone());
        tokio::spawn(async move {
            connection(stream, tls, router).await;
            drop(place);
        });
    }
}

async fn connection(stream: TcpStream, tls: Option<TlsAcceptor>, router: Router) {
    let _ = stream.set_nodelay(true);
    match tls {
        None => talk(stream, router).await,
        Some(tls) => {
            if let Ok(Ok(stream)) = tokio::time::timeout(PATIENCE, tls.accept(stream)).await {
                talk(stream, router).await;
            }
        }
    }
}

async fn talk(stream: impl AsyncRead + AsyncWrite + Unpin + Send + 'static, router: Router) {
    // A client that breaks off is no fault of ours.
    let _ = hyper::server::conn::http1::Builder::new()
        .timer(TokioTimer::new())
        .header_read_timeout(PATIENCE)
        .max_buf_size(32 * 1024)
        .serve_connection(TokioIo::new(stream), TowerToHyperService::new(router))
        .with_upgrades()
        .await;
}
