//! A connection that nobody reads along with. The certificate was given, or is made once and kept beside the list of devices:
//! its fingerprint stays the same, so that a person can compare it.

use std::net::{IpAddr, SocketAddr, UdpSocket};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

use rcgen::{CertificateParams, DnType, KeyPair, date_time_ymd};
use sha2::{Digest, Sha256};
use tokio::net::TcpStream;
use tokio_rustls::TlsAcceptor;
use tokio_rustls::rustls::ServerConfig;
use tokio_rustls::rustls::crypto::ring;
use tokio_rustls::rustls::pki_types::pem::PemObject;
use tokio_rustls::rustls::pki_types::{CertificateDer, PrivateKeyDer};
use tokio_rustls::server::TlsStream;

/// Where a certificate comes from.
#[derive(Clone, Debug)]
pub enum Certificate {
    /// Made by this program.
    Made,
    Given {
        certificate: PathBuf,
        key: PathBuf,
    },
}

/// Years that a made one holds. A browser asks about it anyway, and one that ends on a workday stops the bay. No source: own choice.
const HOLDS: i32 = 10;
/// The first byte of a TLS connection: RFC 8446, section 5.1, content type `handshake`.
const HANDSHAKE: u8 = 22;
const PLAIN: &str = "This server is reached by https: put https:// before the address.\n";

pub struct Tls {
    acceptor: TlsAcceptor,
    /// SHA-256 of the certificate, as browsers show it.
    pub fingerprint: String,
    /// The file of its key, if others on this computer may read it.
    pub exposed: Option<PathBuf>,
}

impl Tls {
    /// `devices`: the list that a made one is kept beside; `names`: what devices may call this computer by.
    ///
    /// Errors: a file that can't be read or made, or holds no certificate or not its key, in words.
    pub fn open(of: &Certificate, devices: &Path, listen: SocketAddr, names: &[String]) -> Result<Self, String> {
        let (certificate, key) = match of {
            Certificate::Given { certificate, key } => (certificate.clone(), key.clone()),
            Certificate::Made => {
                let file = devices.with_extension("pem");
                if !file.exists() {
                    make(&file, listen, names).map_err(|fault| format!("{}: {fault}", file.display()))?;
                }
                (file.clone(), file)
            }
        };
        let unfit = |file: &Path, fault: String| format!("{}: {fault}", file.display());
        let text =
            |file: &Path| standpipe_disk::bytes(file, standpipe_disk::TEXT).map_err(|it| unfit(file, it.to_string()));
        let chain: Result<Vec<CertificateDer>, _> = CertificateDer::pem_slice_iter(&text(&certificate)?).collect();
        let chain = chain.map_err(|fault| unfit(&certificate, format!("it holds no certificate in PEM: {fault}")))?;
        let first = chain.first().ok_or_else(|| unfit(&certificate, "it holds no certificate in PEM".to_owned()))?;
        let fingerprint: Vec<String> = Sha256::digest(first).iter().map(|byte| format!("{byte:02X}")).collect();
        let secret = PrivateKeyDer::from_pem_slice(&text(&key)?);
        let secret = secret.map_err(|fault| unfit(&key, format!("it holds no private key in PEM: {fault}")))?;
        let config = ServerConfig::builder_with_provider(Arc::new(ring::default_provider()))
            .with_safe_default_protocol_versions()
            .and_then(|config| config.with_no_client_auth().with_single_cert(chain, secret))
            .map_err(|fault| unfit(&certificate, format!("it can't be served with this key: {fault}")))?;
        let exposed = standpipe_disk::others_may_read(&key).then_some(key);
        Ok(Self { acceptor: TlsAcceptor::from(Arc::new(config)), fingerprint: fingerprint.join(":"), exposed })
    }

    /// None: it came to nothing. Who speaks plainly is told so, once.
    pub async fn take(&self, stream: TcpStream, patience: Duration) -> Option<TlsStream<TcpStream>> {
        tokio::time::timeout(patience, async {
            let mut first = [0];
            if stream.peek(&mut first).await.ok()? == 1 && first[0] != HANDSHAKE {
                let length = PLAIN.len();
                let says = format!(
                    "HTTP/1.1 400 Bad Request\r\nContent-Type: text/plain\r\nContent-Length: {length}\r\n\r\n{PLAIN}"
                );
                stream.writable().await.ok()?;
                let _ = stream.try_write(says.as_bytes());
                // What was sent has to be read, or the answer is thrown away with the connection.
                let _ = stream.try_read(&mut [0; 4 << 10]);
                return None;
            }
            self.acceptor.accept(stream).await.ok()
        })
        .await
        .ok()
        .flatten()
    }
}

/// Certificate and key in one file, which is there whole or not at all.
fn make(file: &Path, listen: SocketAddr, names: &[String]) -> Result<(), String> {
    let mut all = vec!["localhost".to_owned(), "127.0.0.1".to_owned(), "::1".to_owned()];
    let own = if listen.ip().is_unspecified() { in_the_network() } else { Some(listen.ip()) };
    all.extend(own.map(|own| own.to_string()).into_iter().chain(names.iter().cloned()));
    all.dedup();
    let mut params = CertificateParams::new(all).map_err(|fault| fault.to_string())?;
    params.distinguished_name.push(DnType::CommonName, "standpipe");
    // The clock of a phone may be late.
    let year = standpipe_job::Moment::now().strftime("%Y").to_string().parse().map_err(|_| "the clock says no year")?;
    params.not_before = date_time_ymd(year, 1, 1);
    params.not_after = date_time_ymd(year + HOLDS, 1, 1);
    let key = KeyPair::generate().map_err(|fault| fault.to_string())?;
    let certificate = params.self_signed(&key).map_err(|fault| fault.to_string())?;
    let both = format!("{}{}", certificate.pem(), key.serialize_pem());
    standpipe_disk::whole_secret(file, both.as_bytes()).map_err(|fault| fault.to_string())
}

/// The address of this computer in its network. Nothing is sent: 192.0.2.1 is for documentation (RFC 5737) and only chooses the way.
fn in_the_network() -> Option<IpAddr> {
    let socket = UdpSocket::bind("0.0.0.0:0").ok()?;
    socket.connect("192.0.2.1:9").ok()?;
    Some(socket.local_addr().ok()?.ip())
}
