// Package cert is where TLS certificates come from: of our own making, for a shop's network that no public authority
// vouches for, or from files that somebody else keeps fresh.
package cert

import (
	"bytes"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/sha256"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"errors"
	"fmt"
	"io/fs"
	"math/big"
	"net"
	"net/netip"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"
)

// How long certificates hold. A phone takes a certificate under an authority that its owner trusts for at most 825 days
// (Apple, "Requirements for trusted certificates in iOS 13 and macOS 10.15"); ours are renewed by themselves long before.
const (
	authorityDays = 825
	leafDays      = 397
	renewBefore   = 30 * 24 * time.Hour
	backdated     = time.Hour // a phone's clock may be a little slow
	lookEvery     = time.Minute
)

// lan are the addresses that belong to no one outside: RFC 1918, RFC 3927, RFC 4193, RFC 4291 and loopback. The authority is
// bound to them, so that its key, were it stolen, vouches for no site of the internet.
var lan = []netip.Prefix{
	netip.MustParsePrefix("10.0.0.0/8"), netip.MustParsePrefix("172.16.0.0/12"), netip.MustParsePrefix("192.168.0.0/16"),
	netip.MustParsePrefix("169.254.0.0/16"), netip.MustParsePrefix("127.0.0.0/8"),
	netip.MustParsePrefix("fc00::/7"), netip.MustParsePrefix("fe80::/10"), netip.MustParsePrefix("::1/128"),
}

// Names are what a certificate is for.
type Names struct {
	DNS   []string
	Addrs []netip.Addr
}

// Own is a small authority in a folder, and the certificate that it vouches for.
type Own struct {
	dir   string
	names func() Names
	now   func() time.Time

	authority *x509.Certificate
	key       *ecdsa.PrivateKey
	fresh     bool

	mu     sync.Mutex
	leaf   *tls.Certificate
	made   Names
	looked time.Time
}

// Open reads the authority of dir, or makes one; it is made anew where it nears its end or may not vouch for what names
// says now. dir is made for nobody else to read.
func Open(dir string, names func() Names, now func() time.Time) (*Own, error) {
	o := &Own{dir: dir, names: names, now: now}
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return nil, err
	}
	if err := os.Chmod(dir, 0o700); err != nil {
		return nil, err
	}
	pair, err := o.read("authority")
	switch {
	case errors.Is(err, fs.ErrNotExist):
		err = o.found()
	case err != nil:
		return nil, err
	default:
		o.authority, o.key = pair.Leaf, pair.PrivateKey.(*ecdsa.PrivateKey)
		if o.now().After(o.authority.NotAfter.Add(-renewBefore)) || !covers(o.authority, names().DNS) {
			err = o.found()
		}
	}
	if err != nil {
		return nil, err
	}
	if pair, err := o.read("leaf"); err == nil && pair.Leaf.CheckSignatureFrom(o.authority) == nil {
		o.leaf = pair
		o.made = namesOf(pair.Leaf)
	}
	_, err = o.Certificate(nil)
	return o, err
}

// Fresh tells whether the authority was made just now: every phone has to be told to trust it.
func (o *Own) Fresh() bool { return o.fresh }

// Authority is the certificate to trust, DER.
func (o *Own) Authority() []byte { return o.authority.Raw }

// Until is when the authority ends.
func (o *Own) Until() time.Time { return o.authority.NotAfter }

// Fingerprint is the SHA-256 of the authority's certificate, as phones show it.
func (o *Own) Fingerprint() string {
	sum := sha256.Sum256(o.authority.Raw)
	return strings.ReplaceAll(fmt.Sprintf("% X", sum[:]), " ", ":")
}

// Certificate is for tls.Config.GetCertificate. It is made anew where it nears its end or the machine's names and addresses
// have changed.
func (o *Own) Certificate(*tls.ClientHelloInfo) (*tls.Certificate, error) {
	o.mu.Lock()
	defer o.mu.Unlock()
	now := o.now()
	if o.leaf != nil && now.Sub(o.looked) < lookEvery && now.Sub(o.looked) >= 0 {
		return o.leaf, nil
	}
	want := tidy(o.names())
	if o.leaf == nil || !now.Before(o.leaf.Leaf.NotAfter.Add(-renewBefore)) || !same(want, o.made) {
		leaf, err := o.issue(want, now)
		if err != nil {
			if o.leaf != nil {
				return o.leaf, nil // a full disk is no reason to turn everybody away
			}
			return nil, err
		}
		o.leaf, o.made = leaf, want
	}
	o.looked = now
	return o.leaf, nil
}

// found makes the authority.
func (o *Own) found() error {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return err
	}
	now := o.now()
	host, _ := os.Hostname()
	t := &x509.Certificate{
		SerialNumber:          serial(),
		Subject:               pkix.Name{CommonName: strings.TrimSpace("Thatch " + host), Organization: []string{"Thatch, this salon's own"}},
		NotBefore:             now.Add(-backdated),
		NotAfter:              now.Add(authorityDays * 24 * time.Hour),
		KeyUsage:              x509.KeyUsageCertSign | x509.KeyUsageCRLSign,
		ExtKeyUsage:           []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
		BasicConstraintsValid: true, IsCA: true, MaxPathLenZero: true,
		PermittedDNSDomainsCritical: true,
		PermittedDNSDomains:         tidy(Names{DNS: append([]string{"localhost", "local"}, o.names().DNS...)}).DNS,
	}
	for _, p := range lan {
		bits := 32
		if p.Addr().Is6() {
			bits = 128
		}
		t.PermittedIPRanges = append(t.PermittedIPRanges, &net.IPNet{IP: p.Addr().AsSlice(), Mask: net.CIDRMask(p.Bits(), bits)})
	}
	der, err := x509.CreateCertificate(rand.Reader, t, t, &key.PublicKey, key)
	if err != nil {
		return err
	}
	if err := o.write("authority", key, der); err != nil {
		return err
	}
	o.authority, err = x509.ParseCertificate(der)
	o.key, o.fresh, o.leaf = key, true, nil
	return err
}

func (o *Own) issue(n Names, now time.Time) (*tls.Certificate, error) {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, err
	}
	until := now.Add(leafDays * 24 * time.Hour)
	if o.authority.NotAfter.Before(until) {
		until = o.authority.NotAfter
	}
	t := &x509.Certificate{
		SerialNumber: serial(),
		Subject:      pkix.Name{CommonName: "Thatch"},
		NotBefore:    now.Add(-backdated), NotAfter: until,
		KeyUsage: x509.KeyUsageDigitalSignature, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
		BasicConstraintsValid: true,
		DNSNames:              n.DNS,
	}
	for _, a := range n.Addrs {
		t.IPAddresses = append(t.IPAddresses, a.AsSlice())
	}
	der, err := x509.CreateCertificate(rand.Reader, t, o.authority, &key.PublicKey, o.key)
	if err != nil {
		return nil, err
	}
	if err := o.write("leaf", key, der); err != nil {
		return nil, err
	}
	leaf, err := x509.ParseCertificate(der)
	return &tls.Certificate{Certificate: [][]byte{der, o.authority.Raw}, PrivateKey: key, Leaf: leaf}, err
}

func serial() *big.Int {
	b := make([]byte, 16)
	rand.Read(b) // never fails
	b[0] = b[0]&0x7f | 0x40
	return new(big.Int).SetBytes(b)
}

// tidy leaves out what the authority may not vouch for: addresses of the internet.
func tidy(n Names) Names {
	var out Names
	for _, name := range n.DNS {
		if name != "" {
			out.DNS = append(out.DNS, strings.ToLower(name))
		}
	}
	for _, a := range n.Addrs {
		if Certifies(a) {
			out.Addrs = append(out.Addrs, a)
		}
	}
	slices.Sort(out.DNS)
	slices.SortFunc(out.Addrs, netip.Addr.Compare)
	out.DNS, out.Addrs = slices.Compact(out.DNS), slices.Compact(out.Addrs)
	return out
}

// Certifies tells whether an authority of ours may vouch for an address.
func Certifies(a netip.Addr) bool {
	return slices.ContainsFunc(lan, func(p netip.Prefix) bool { return p.Contains(a) })
}

func same(a, b Names) bool { return slices.Equal(a.DNS, b.DNS) && slices.Equal(a.Addrs, b.Addrs) }

func namesOf(c *x509.Certificate) Names {
	n := Names{DNS: c.DNSNames}
	for _, ip := range c.IPAddresses {
		if a, ok := netip.AddrFromSlice(ip); ok {
			n.Addrs = append(n.Addrs, a.Unmap())
		}
	}
	return tidy(n)
}

// covers tells whether the authority may vouch for every one of the names.
func covers(c *x509.Certificate, names []string) bool {
	for _, name := range names {
		if name != "" && !slices.ContainsFunc(c.PermittedDNSDomains, func(d string) bool { return name == d || strings.HasSuffix(name, "."+d) }) {
			return false
		}
	}
	return true
}

func (o *Own) read(name string) (*tls.Certificate, error) {
	pair, err := tls.LoadX509KeyPair(filepath.Join(o.dir, name+".crt"), filepath.Join(o.dir, name+".key"))
	if err != nil {
		return nil, err
	}
	if _, ok := pair.PrivateKey.(*ecdsa.PrivateKey); !ok {
		return nil, errors.New(name + ".key is not of our making")
	}
	return &pair, nil
}

// write puts key and certificate in place, each whole or not at all, and the key first: a certificate without its key would
// not start.
func (o *Own) write(name string, key *ecdsa.PrivateKey, der []byte) error {
	k, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		return err
	}
	if err := o.put(name+".key", pemOf("PRIVATE KEY", k)); err != nil {
		return err
	}
	return o.put(name+".crt", pemOf("CERTIFICATE", der))
}

func (o *Own) put(name string, b []byte) error {
	f, err := os.CreateTemp(o.dir, "new-") // 0600
	if err != nil {
		return err
	}
	_, err = bytes.NewReader(b).WriteTo(f)
	err = errors.Join(err, f.Sync(), f.Close())
	if err == nil {
		err = os.Rename(f.Name(), filepath.Join(o.dir, name))
	}
	if err != nil {
		_ = os.Remove(f.Name()) // the first error is the one to tell
	}
	return err
}
