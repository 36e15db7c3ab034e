package server

import (
	"crypto/tls"
	"net"
	"net/netip"
	"path/filepath"
	"slices"
	"strconv"
	"time"

	"thatch/server/cert"
	"thatch/timeline"
)

// Network is where the salon is to be reached, as the command line says it.
type Network struct {
	Listen          string   // address and port
	TLSCert, TLSKey string   // PEM files; "": none
	TLSOwn          bool     // a certificate of our own making
	PlainLAN        bool     // other devices without encryption: said knowingly
	Hosts           []string // further names to answer to
}

// tlsFolder lies in the data folder, and in no backup.
const tlsFolder = "tls"

// Check says what Open and Serve would say right now, and leaves the address free: for a command that has something to do
// first.
//
// Faults: Invalid where the address makes no sense, is reached from other devices without a word on how they are kept
// private, or flags contradict each other; Busy where the port is taken.
func (n Network) Check() error {
	if err := n.sense(); err != nil {
		return err
	}
	ln, err := listen(n.Listen)
	if err != nil {
		return err
	}
	return ln.Close()
}

func (n Network) sense() error {
	switch {
	case (n.TLSCert == "") != (n.TLSKey == ""):
		return timeline.NewFault(timeline.Invalid, "fault.tls.pair")
	case n.TLSOwn && n.TLSCert != "":
		return timeline.NewFault(timeline.Invalid, "fault.tls.both")
	case n.PlainLAN && n.encrypted():
		return timeline.NewFault(timeline.Invalid, "fault.tls.plain")
	}
	for _, h := range n.Hosts {
		if name := plainName(h); name == "" || hostname(name) != name || len(name) > 253 {
			return timeline.NewFault(timeline.Invalid, "fault.host.name", "name", h)
		}
	}
	host, err := hostOf(n.Listen)
	if err != nil {
		return err
	}
	if !loopbackHost(host) {
		if host != "" && net.ParseIP(host) == nil {
			return timeline.NewFault(timeline.Invalid, "fault.listen.address", "address", n.Listen)
		}
		if !n.encrypted() && !n.PlainLAN {
			return timeline.NewFault(timeline.Invalid, "fault.listen.open", "address", n.Listen)
		}
	}
	if n.TLSCert != "" {
		if _, err := cert.Files(n.TLSCert, n.TLSKey, time.Now); err != nil {
			return timeline.NewFault(timeline.Invalid, "fault.tls.read", "file", n.TLSCert, "why", err.Error()).Because(err)
		}
	}
	return nil
}

func (n Network) encrypted() bool { return n.TLSOwn || n.TLSCert != "" }

// Door is a Network with its certificates at hand.
type Door struct {
	listen string
	local  bool
	hosts  *Hosts
	own    *cert.Own
	given  *cert.Given
}

// Open makes the certificates ready; nothing listens yet. data is the salon's folder.
func (n Network) Open(data string) (*Door, error) {
	if err := n.sense(); err != nil {
		return nil, err
	}
	host, err := hostOf(n.Listen)
	if err != nil {
		return nil, err
	}
	d := &Door{listen: n.Listen, local: loopbackHost(host) && len(n.Hosts) == 0}
	if loopbackHost(host) {
		d.hosts = LoopbackHosts(n.Hosts...)
	} else {
		d.hosts = machineHosts(n.Hosts...)
		if ip, err := netip.ParseAddr(host); err == nil && !ip.IsUnspecified() {
			d.hosts.look = func() []netip.Addr { return []netip.Addr{ip.Unmap().WithZone("")} }
		}
	}
	switch {
	case n.TLSCert != "":
		if d.given, err = cert.Files(n.TLSCert, n.TLSKey, time.Now); err != nil {
			return nil, timeline.NewFault(timeline.Invalid, "fault.tls.read", "file", n.TLSCert, "why", err.Error()).Because(err)
		}
		d.hosts.names = append(d.hosts.names, d.given.DNSNames()...)
	case n.TLSOwn:
		dir := filepath.Join(data, tlsFolder)
		if d.own, err = cert.Open(dir, d.hosts.certified, time.Now); err != nil {
			return nil, timeline.NewFault(timeline.Internal, "fault.tls.own", "dir", dir, "why", err.Error()).Because(err)
		}
	}
	return d, nil
}

// Local tells whether only this machine reaches the door, under no other name than its own.
func (d *Door) Local() bool { return d.local }

// Hosts are the names that are answered to.
func (d *Door) Hosts() *Hosts { return d.hosts }

// HSTS tells whether browsers may be told never to come without encryption again.
func (d *Door) HSTS() bool { return d.given != nil }

// Outside tells whether other devices come in.
func (d *Door) Outside() bool {
	host, err := hostOf(d.listen)
	return err == nil && !loopbackHost(host)
}

// Plain tells whether they come in without encryption.
func (d *Door) Plain() bool { return d.Outside() && d.tls() == nil }

// Own is the authority of our own making; nil: none.
func (d *Door) Own() *cert.Own { return d.own }

// suites12 are those of TLS 1.2 that RFC 9325, section 4.2, recommends, and their like with ChaCha20-Poly1305 (RFC 7905): a
// fresh key each time, and encryption that authenticates. TLS 1.3 has no others.
var suites12 = []uint16{
	tls.TLS_ECDHE_ECDSA_WITH_AES_128_GCM_SHA256, tls.TLS_ECDHE_ECDSA_WITH_AES_256_GCM_SHA384, tls.TLS_ECDHE_ECDSA_WITH_CHACHA20_POLY1305_SHA256,
	tls.TLS_ECDHE_RSA_WITH_AES_128_GCM_SHA256, tls.TLS_ECDHE_RSA_WITH_AES_256_GCM_SHA384, tls.TLS_ECDHE_RSA_WITH_CHACHA20_POLY1305_SHA256,
}

func (d *Door) tls() *tls.Config {
	c := &tls.Config{MinVersion: tls.VersionTLS12, CipherSuites: suites12}
	switch {
	case d.own != nil:
		c.GetCertificate = d.own.Certificate
	case d.given != nil:
		c.GetCertificate = d.given.Certificate
	default:
		return nil
	}
	return c
}

// addressesAt are where the door is found, given what it listens on: the first is the best. An address of the internet is
// not named where our own certificate does not vouch for it.
func (d *Door) addressesAt(at net.Addr) []string {
	scheme := "http://"
	if d.tls() != nil {
		scheme = "https://"
	}
	tcp, ok := at.(*net.TCPAddr)
	if !ok || !tcp.IP.IsUnspecified() {
		return []string{scheme + at.String()}
	}
	var out []string
	for _, a := range d.hosts.certified().Addrs {
		if !a.IsLoopback() && !a.IsLinkLocalUnicast() && a.Is4() && (d.own == nil || cert.Certifies(a)) {
			out = append(out, scheme+net.JoinHostPort(a.String(), strconv.Itoa(tcp.Port)))
		}
	}
	for _, name := range machineNames() {
		if len(name) > 6 && name[len(name)-6:] == ".local" {
			out = append(out, scheme+net.JoinHostPort(name, strconv.Itoa(tcp.Port)))
		}
	}
	return slices.Compact(append(out, scheme+net.JoinHostPort("localhost", strconv.Itoa(tcp.Port))))
}

// certified are the names that a certificate of our own is for.
func (h *Hosts) certified() cert.Names {
	var n cert.Names
	for _, name := range h.names {
		if a, err := netip.ParseAddr(name); err == nil {
			n.Addrs = append(n.Addrs, a)
		} else {
			n.DNS = append(n.DNS, name)
		}
	}
	if h.machine {
		n.Addrs = append(n.Addrs, h.addresses()...)
	}
	return n
}
