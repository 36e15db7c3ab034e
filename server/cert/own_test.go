package cert

import (
	"bytes"
	"crypto/tls"
	"crypto/x509"
	"net/netip"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"testing"
	"time"
)

var day = 24 * time.Hour

// shop is a folder with an authority, and what the machine is called and numbered at the moment.
type shop struct {
	t     *testing.T
	dir   string
	names Names
	now   time.Time
}

func newShop(t *testing.T) *shop {
	return &shop{t: t, dir: filepath.Join(t.TempDir(), "tls"), now: time.Date(2026, 6, 10, 11, 0, 0, 0, time.UTC),
		names: Names{DNS: []string{"salon", "salon.local", "localhost"}, Addrs: addrs("192.168.1.20", "127.0.0.1", "::1", "fd00::20")}}
}

func addrs(all ...string) (out []netip.Addr) {
	for _, a := range all {
		out = append(out, netip.MustParseAddr(a))
	}
	return
}

func (s *shop) open() *Own {
	s.t.Helper()
	o, err := Open(s.dir, func() Names { return s.names }, func() time.Time { return s.now })
	if err != nil {
		s.t.Fatal(err)
	}
	return o
}

func (s *shop) leaf(o *Own) *x509.Certificate {
	s.t.Helper()
	c, err := o.Certificate(nil)
	if err != nil {
		s.t.Fatal(err)
	}
	return c.Leaf
}

// trusts tells whether a phone that trusts the authority takes the certificate for this name, now.
func (s *shop) trusts(o *Own, leaf *x509.Certificate, name string) error {
	roots := x509.NewCertPool()
	roots.AddCert(o.authority)
	_, err := leaf.Verify(x509.VerifyOptions{Roots: roots, DNSName: name, CurrentTime: s.now, KeyUsages: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth}})
	return err
}

func TestAPhoneThatTrustsTheAuthorityTakesTheCertificateUnderEveryName(t *testing.T) {
	s := newShop(t)
	o := s.open()
	leaf := s.leaf(o)
	for _, name := range []string{"salon", "SALON.local", "localhost", "192.168.1.20", "127.0.0.1", "[::1]", "fd00::20"} {
		if err := s.trusts(o, leaf, name); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
	for _, name := range []string{"example.org", "192.168.1.21", "other.local"} {
		if s.trusts(o, leaf, name) == nil {
			t.Errorf("%s is taken", name)
		}
	}
	// Apple, "Requirements for trusted certificates in iOS 13 and macOS 10.15": 825 days, a name in SAN, serverAuth. E, from memory.
	if span := leaf.NotAfter.Sub(leaf.NotBefore); span > 398*day || len(leaf.DNSNames) == 0 || !slices.Contains(leaf.ExtKeyUsage, x509.ExtKeyUsageServerAuth) {
		t.Errorf("%v, %v, %v", span, leaf.DNSNames, leaf.ExtKeyUsage)
	}
	if a := o.authority; !a.IsCA || !a.MaxPathLenZero || a.NotAfter.Sub(a.NotBefore) > 826*day || a.KeyUsage != x509.KeyUsageCertSign|x509.KeyUsageCRLSign {
		t.Errorf("authority %+v", a.Subject)
	}
}

// A stolen key must be worth nothing outside of the shop (RFC 5280, section 4.2.1.10).
func TestTheAuthorityVouchesForNothingOnTheInternet(t *testing.T) {
	s := newShop(t)
	o := s.open()
	for _, n := range []Names{{DNS: []string{"example.org"}}, {DNS: []string{"salon.example.org"}}, {Addrs: addrs("198.51.100.7")}, {Addrs: addrs("2001:db8::7")}} {
		forged, err := func() (*tls.Certificate, error) { // tidy would leave the address out
			was := lan
			defer func() { lan = was }()
			lan = []netip.Prefix{netip.MustParsePrefix("0.0.0.0/0"), netip.MustParsePrefix("::/0")}
			return o.issue(tidy(n), s.now)
		}()
		if err != nil {
			t.Fatal(err)
		}
		name := append(n.DNS, "")[0]
		if name == "" {
			name = n.Addrs[0].String()
		}
		if err := s.trusts(o, forged.Leaf, name); err == nil {
			t.Errorf("a certificate for %s is taken", name)
		}
	}
}

func TestAnAddressOfTheInternetIsLeftOut(t *testing.T) {
	s := newShop(t)
	s.names.Addrs = append(s.names.Addrs, addrs("198.51.100.7", "2001:db8::7")...)
	leaf := s.leaf(s.open())
	if len(leaf.IPAddresses) != 4 {
		t.Errorf("%v", leaf.IPAddresses)
	}
}

func TestTheCertificateIsRenewedByItself(t *testing.T) {
	s := newShop(t)
	o := s.open()
	first := s.leaf(o)
	s.now = s.now.Add(360 * day)
	if s.leaf(o) != first {
		t.Error("renewed a month too early")
	}
	s.now = s.now.Add(10 * day)
	second := s.leaf(o)
	if second == first {
		t.Fatal("not renewed near its end")
	}
	s.names.Addrs = addrs("192.168.1.77", "127.0.0.1")
	s.now = s.now.Add(2 * time.Minute)
	third := s.leaf(o)
	if err := s.trusts(o, third, "192.168.1.77"); third == second || err != nil {
		t.Errorf("the machine has another address: %v", err)
	}
	if o.Fresh() != true {
		t.Error("the authority of a new folder is not said to be new")
	}
	if again := s.open(); again.Fresh() || again.Fingerprint() != o.Fingerprint() || !bytes.Equal(s.leaf(again).Raw, third.Raw) {
		t.Error("after a restart authority or certificate are others")
	}
}

func TestTheAuthorityIsMadeAnewNearItsEndAndForNamesThatItMayNotVouchFor(t *testing.T) {
	s := newShop(t)
	was := s.open().Fingerprint()
	s.names.DNS = append(s.names.DNS, "a.salon.local")
	if o := s.open(); o.Fresh() {
		t.Error("for a name below its own")
	}
	s.names.DNS = append(s.names.DNS, "salon.example")
	o := s.open()
	if !o.Fresh() || o.Fingerprint() == was || s.trusts(o, s.leaf(o), "salon.example") != nil {
		t.Error("not for a new name")
	}
	s.now = s.now.Add((authorityDays - 31) * day)
	if s.open().Fresh() {
		t.Error("too early")
	}
	s.now = s.now.Add(2 * day)
	if o := s.open(); !o.Fresh() || s.trusts(o, s.leaf(o), "salon") != nil {
		t.Error("not near its end")
	}
}

func TestKeysAreForNobodyElse(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("folders of Windows have other rights")
	}
	s := newShop(t)
	if err := os.MkdirAll(s.dir, 0o755); err != nil {
		t.Fatal(err)
	}
	s.open()
	if info, _ := os.Stat(s.dir); info.Mode().Perm() != 0o700 {
		t.Errorf("the folder: %v", info.Mode())
	}
	files, err := os.ReadDir(s.dir)
	if err != nil || len(files) != 4 {
		t.Fatalf("%v, %v", files, err)
	}
	for _, f := range files {
		if info, _ := f.Info(); info.Mode().Perm() != 0o600 {
			t.Errorf("%s: %v", f.Name(), info.Mode())
		}
	}
}

func TestADamagedKeyIsSaidAndNotReplaced(t *testing.T) {
	s := newShop(t)
	s.open()
	name := filepath.Join(s.dir, "authority.key")
	if err := os.WriteFile(name, []byte("torn"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := Open(s.dir, func() Names { return s.names }, func() time.Time { return s.now }); err == nil {
		t.Error("an authority that phones trust was replaced without a word")
	}
	if b, _ := os.ReadFile(name); string(b) != "torn" {
		t.Error("the file was written")
	}
}

func TestGivenFilesAreReadAgainWhenTheyChange(t *testing.T) {
	a, b := newShop(t), newShop(t)
	certA, certB := a.leaf(a.open()), b.leaf(b.open())
	now := a.now
	cert, key := filepath.Join(a.dir, "leaf.crt"), filepath.Join(a.dir, "leaf.key")
	g, err := Files(cert, key, func() time.Time { return now })
	if err != nil {
		t.Fatal(err)
	}
	shown := func() []byte {
		c, err := g.Certificate(nil)
		if err != nil {
			t.Fatal(err)
		}
		return c.Certificate[0]
	}
	if !bytes.Equal(shown(), certA.Raw) {
		t.Fatal("not the certificate of the file")
	}
	replace := func(name string, stamp time.Time) {
		text, err := os.ReadFile(filepath.Join(b.dir, filepath.Base(name)))
		if err == nil {
			err = os.WriteFile(name, text, 0o600)
		}
		if err == nil {
			err = os.Chtimes(name, stamp, stamp)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	later := time.Now().Add(time.Hour)
	replace(cert, later)
	now = now.Add(11 * time.Second)
	if !bytes.Equal(shown(), certA.Raw) {
		t.Error("half of a change is shown")
	}
	replace(key, later)
	if !bytes.Equal(shown(), certA.Raw) {
		t.Error("the files are looked at for every connection")
	}
	now = now.Add(11 * time.Second)
	if !bytes.Equal(shown(), certB.Raw) {
		t.Error("the change is not shown")
	}
	if _, err := Files(cert, filepath.Join(a.dir, "authority.key"), time.Now); err == nil {
		t.Error("a key that does not belong to the certificate is taken")
	}
}
