package server

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"net/netip"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"thatch/timeline"
)

func TestOtherDevicesComeInUnderACertificateOrKnowinglyWithout(t *testing.T) {
	dir := t.TempDir()
	made, err := Network{Listen: "127.0.0.1:0", TLSOwn: true}.Open(dir)
	if err != nil || made.Own() == nil {
		t.Fatal(err)
	}
	cert, key := filepath.Join(dir, "tls", "leaf.crt"), filepath.Join(dir, "tls", "leaf.key")
	if err := os.WriteFile(filepath.Join(dir, "note.txt"), []byte("no certificate"), 0o600); err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct {
		n    Network
		want string // key of the fault; "": none
	}{
		"loopback":                             {Network{Listen: "127.0.0.1:0"}, ""},
		"loopback, encrypted":                  {Network{Listen: "localhost:0", TLSOwn: true}, ""},
		"everything, without a word":           {Network{Listen: "0.0.0.0:0"}, "fault.listen.open"},
		"everything of IPv6, without a word":   {Network{Listen: "[::]:0"}, "fault.listen.open"},
		"no address, without a word":           {Network{Listen: ":0"}, "fault.listen.open"},
		"one address, without a word":          {Network{Listen: "192.0.2.7:0"}, "fault.listen.open"},
		"everything, own certificate":          {Network{Listen: "0.0.0.0:0", TLSOwn: true}, ""},
		"everything, given certificate":        {Network{Listen: ":0", TLSCert: cert, TLSKey: key}, ""},
		"everything, knowingly plain":          {Network{Listen: "0.0.0.0:0", PlainLAN: true}, ""},
		"a name that may resolve to anything":  {Network{Listen: "example.org:0", TLSOwn: true}, "fault.listen.address"},
		"a certificate without its key":        {Network{Listen: "127.0.0.1:0", TLSCert: cert}, "fault.tls.pair"},
		"a key without its certificate":        {Network{Listen: "127.0.0.1:0", TLSKey: key}, "fault.tls.pair"},
		"two certificates":                     {Network{Listen: "127.0.0.1:0", TLSCert: cert, TLSKey: key, TLSOwn: true}, "fault.tls.both"},
		"plain and encrypted":                  {Network{Listen: "0.0.0.0:0", TLSOwn: true, PlainLAN: true}, "fault.tls.plain"},
		"a file that is no certificate":        {Network{Listen: "127.0.0.1:0", TLSCert: filepath.Join(dir, "note.txt"), TLSKey: key}, "fault.tls.read"},
		"a file that is not there":             {Network{Listen: "127.0.0.1:0", TLSCert: filepath.Join(dir, "none"), TLSKey: key}, "fault.tls.read"},
		"a further name":                       {Network{Listen: "127.0.0.1:0", Hosts: []string{"Salon.example."}}, ""},
		"a further name with a port":           {Network{Listen: "127.0.0.1:0", Hosts: []string{"salon.example:80"}}, "fault.host.name"},
		"a further name that is empty":         {Network{Listen: "127.0.0.1:0", Hosts: []string{" "}}, "fault.host.name"},
		"an address of IPv6 as a further name": {Network{Listen: "127.0.0.1:0", Hosts: []string{"fd00::7"}}, ""},
	} {
		t.Run(name, func(t *testing.T) {
			for what, err := range map[string]error{"check": c.n.Check(), "open": second(c.n.Open(t.TempDir()))} {
				if c.want == "" && err != nil {
					t.Errorf("%s: %v", what, err)
				}
				if f, ok := err.(*timeline.Fault); c.want != "" && (!ok || f.Kind != timeline.Invalid || f.Say.Key != c.want) {
					t.Errorf("%s: %v, want %s", what, err, c.want)
				}
			}
		})
	}
}

func second[T any](_ T, err error) error { return err }

func TestOnlyThisMachineUnderItsOwnNamesIsLocal(t *testing.T) {
	for _, c := range []struct {
		n     Network
		local bool
		plain bool
	}{
		{Network{Listen: "127.0.0.1:0"}, true, false}, {Network{Listen: "localhost:0", TLSOwn: true}, true, false}, {Network{Listen: "[::1]:0"}, true, false},
		{Network{Listen: "127.0.0.1:0", Hosts: []string{"salon.example"}}, false, false}, {Network{Listen: "0.0.0.0:0", PlainLAN: true}, false, true}, {Network{Listen: ":0", TLSOwn: true}, false, false},
	} {
		d, err := c.n.Open(t.TempDir())
		if err != nil || d.Local() != c.local || d.Plain() != c.plain || d.HSTS() {
			t.Errorf("%+v: %v", c.n, err)
		}
	}
}

func TestWhatOtherDevicesReachNeedsAccounts(t *testing.T) {
	for _, h := range []*Hosts{machineHosts(), LoopbackHosts("salon.example")} {
		if _, err := New(nil, Options{Hosts: h}); err == nil || !strings.Contains(err.Error(), "accounts") {
			t.Errorf("%v", err)
		}
	}
}

func TestTheMachinesOwnNamesAndAddressesAreOurs(t *testing.T) {
	h := machineHosts("Salon.Example", "fd00::7")
	h.names = append(h.names, "groom", "groom.local")
	h.look = func() []netip.Addr {
		return []netip.Addr{netip.MustParseAddr("192.168.1.20"), netip.MustParseAddr("fe80::20")}
	}
	for host, want := range map[string]bool{
		"localhost": true, "127.0.0.1": true, "::1": true, "groom": true, "groom.local": true, "groom.local.": true, "salon.example": true, "fd00::7": true,
		"192.168.1.20": true, "fe80::20": true, "::ffff:192.168.1.20": true,
		"": false, ".": false, "192.168.1.21": false, "example.org": false, "groom.example.org": false, "salon.example.org": false, "192.168.1.20.example.org": false, "0.0.0.0": false, "::": false,
	} {
		if h.Ours(host) != want {
			t.Errorf("%q: %v", host, !want)
		}
	}
	if LoopbackHosts().Ours("192.168.1.20") {
		t.Error("on loopback an address of the network is answered")
	}
}

// served is a door at work.
func served(t *testing.T, n Network, h http.Handler) (d *Door, at string) {
	t.Helper()
	d, err := n.Open(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	ready, ended := make(chan string, 1), make(chan error, 1)
	go func() { ended <- d.Serve(ctx, h, discard, func(urls []string) { ready <- urls[0] }) }()
	t.Cleanup(func() {
		cancel()
		if err := <-ended; err != nil {
			t.Errorf("ended with %v", err)
		}
	})
	select {
	case at = <-ready:
	case err := <-ended:
		t.Fatal(err)
	}
	return d, at
}

func TestACertificateOfOurOwnIsShownAndNothingOlderThanTLS12(t *testing.T) {
	d, at := served(t, Network{Listen: "127.0.0.1:0", TLSOwn: true}, http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) { _, _ = io.WriteString(w, r.Proto) }))
	if !strings.HasPrefix(at, "https://") {
		t.Fatalf("at %s", at)
	}
	authority, err := x509.ParseCertificate(d.Own().Authority())
	if err != nil {
		t.Fatal(err)
	}
	roots := x509.NewCertPool()
	roots.AddCert(authority)
	asked := func(min, max uint16, roots *x509.CertPool) (string, uint16, error) {
		c := &http.Client{Transport: &http.Transport{ForceAttemptHTTP2: true, TLSClientConfig: &tls.Config{RootCAs: roots, MinVersion: min, MaxVersion: max}}}
		defer c.CloseIdleConnections()
		resp, err := c.Get(at)
		if err != nil {
			return "", 0, err
		}
		defer resp.Body.Close()
		b, _ := io.ReadAll(resp.Body)
		return string(b), resp.TLS.Version, nil
	}
	if proto, v, err := asked(0, 0, roots); err != nil || proto != "HTTP/2.0" || v != tls.VersionTLS13 {
		t.Errorf("%s, %x, %v", proto, v, err)
	}
	if _, v, err := asked(tls.VersionTLS12, tls.VersionTLS12, roots); err != nil || v != tls.VersionTLS12 {
		t.Errorf("TLS 1.2: %v", err)
	}
	if _, _, err := asked(tls.VersionTLS10, tls.VersionTLS11, roots); err == nil {
		t.Error("TLS 1.1 is spoken (RFC 8996)")
	}
	if _, _, err := asked(0, 0, x509.NewCertPool()); err == nil {
		t.Error("the certificate is trusted by who was not told to")
	}
	resp, err := http.Get("http" + strings.TrimPrefix(at, "https"))
	if err != nil || resp.StatusCode != http.StatusBadRequest {
		t.Errorf("without encryption on the same port: %v %v", resp, err)
	}
}

// RFC 9325, section 4.2 (E): of the suites of TLS 1.2 only those with a fresh key each time and encryption that authenticates.
func TestNoWeakSuiteOfTLS12IsSpoken(t *testing.T) {
	_, at := served(t, Network{Listen: "127.0.0.1:0", TLSOwn: true}, http.NotFoundHandler())
	spoken := 0
	for _, suite := range append(tls.CipherSuites(), tls.InsecureCipherSuites()...) {
		if !slices.Contains(suite.SupportedVersions, tls.VersionTLS12) {
			continue
		}
		c, err := tls.Dial("tcp", strings.TrimPrefix(at, "https://"), &tls.Config{InsecureSkipVerify: true, MaxVersion: tls.VersionTLS12, CipherSuites: []uint16{suite.ID}})
		if err != nil {
			continue
		}
		c.Close()
		spoken++
		if name := suite.Name; !strings.HasPrefix(name, "TLS_ECDHE_") || !strings.Contains(name, "_GCM_") && !strings.Contains(name, "_POLY1305_") {
			t.Errorf("%s is spoken", name)
		}
	}
	if spoken == 0 {
		t.Error("none is spoken")
	}
}

func TestHSTSOnlyWhereEveryBrowserTrustsTheCertificate(t *testing.T) {
	for _, given := range []bool{true, false} {
		w := httptest.NewRecorder()
		secure(given)(http.NotFoundHandler()).ServeHTTP(w, httptest.NewRequest("GET", "/", nil))
		if got := w.Header().Get("Strict-Transport-Security") != ""; got != given {
			t.Errorf("given %v: %v", given, got)
		}
	}
}

func TestConnectionsAreCountedByHome(t *testing.T) {
	ln := &queue{conns: make(chan net.Conn, mostConns+mostFromOne)}
	b := bounded(ln)
	take := func(from string, n int) (taken []net.Conn) {
		for range n {
			ln.conns <- &fakeConn{from: netip.MustParseAddrPort(from)}
		}
		ln.conns <- &fakeConn{from: netip.MustParseAddrPort("198.51.100.250:1"), last: true}
		for {
			c, err := b.Accept()
			if err != nil {
				t.Fatal(err)
			}
			if c.(*boundConn).Conn.(*fakeConn).last {
				c.Close()
				return taken
			}
			taken = append(taken, c)
		}
	}
	first := take("[2001:db8:0:1::1]:9", mostFromOne+100)
	if len(first) != mostFromOne {
		t.Fatalf("one home has %d", len(first))
	}
	if n := len(take("[2001:db8:0:1:ffff::2]:9", 1)); n != 0 {
		t.Error("another address of the same home has more")
	}
	if n := len(take("[2001:db8:0:2::1]:9", 1)); n != 1 {
		t.Error("another home has none")
	}
	first[0].Close()
	first[0].Close() // twice counts once
	if n := len(take("[2001:db8:0:1::3]:9", 2)); n != 1 {
		t.Errorf("%d after one left", n)
	}
}

// queue is a listener of connections that are already there.
type queue struct {
	net.Listener
	conns chan net.Conn
}

func (q *queue) Accept() (net.Conn, error) { return <-q.conns, nil }

type fakeConn struct {
	net.Conn
	from netip.AddrPort
	last bool
}

func (c *fakeConn) RemoteAddr() net.Addr { return net.TCPAddrFromAddrPort(c.from) }
func (c *fakeConn) Close() error         { return nil }

// What a slow connection may hold is reckoned, not waited for.
func TestARequestLastsAsLongAsItMoves(t *testing.T) {
	p := newPace()
	if got := p.left(0); got != paceGrace {
		t.Errorf("at first %v", got)
	}
	p.count(1, 29*time.Second)
	if got := p.left(0); got > time.Second+time.Millisecond {
		t.Errorf("a byte in 29 seconds leaves %v", got)
	}
	for range 1280 { // forty megabytes from a phone at 70 kB a second
		p.count(32<<10, 470*time.Millisecond)
		if p.left(0) <= 0 {
			t.Fatal("what moves is cut off")
		}
	}
	if got := p.left(0); got != paceGrace {
		t.Errorf("after forty megabytes it may stand still for %v", got)
	}
	if p = newPace(); p.left(40<<20) < time.Hour {
		t.Error("forty megabytes in one piece may not take an hour")
	}
}

func TestABodyThatDripsIsCutOffAndOneThatMovesIsNot(t *testing.T) {
	was := paceGraceFor
	t.Cleanup(func() { paceGraceFor = was })
	paceGraceFor = 300 * time.Millisecond
	read := make(chan error, 4)
	_, at := served(t, Network{Listen: "127.0.0.1:0"}, watched(discard)(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		_, err := io.Copy(io.Discard, r.Body)
		read <- err
		time.Sleep(2 * paceGraceFor) // longer than a pause may be: our own thinking is not counted
		if err == nil && r.Context().Err() != nil {
			t.Error("the connection is taken for lost while we work")
		}
		_, _ = io.WriteString(w, "done")
	})))
	send := func(every time.Duration, chunk, n int) {
		c, err := net.Dial("tcp", strings.TrimPrefix(at, "http://"))
		if err != nil {
			t.Error(err)
			return
		}
		defer c.Close()
		_, _ = io.WriteString(c, "POST / HTTP/1.1\r\nHost: x\r\nContent-Length: 1000000\r\n\r\n")
		for range n {
			if _, err := c.Write(make([]byte, chunk)); err != nil {
				return
			}
			time.Sleep(every)
		}
		_, _ = c.Read(make([]byte, 1))
	}
	go send(50*time.Millisecond, 1, 60)
	if err := <-read; err == nil || !strings.Contains(err.Error(), "timeout") {
		t.Errorf("a byte every twentieth second: %v", err)
	}
	send(100*time.Millisecond, 100_000, 10)
	if err := <-read; err != nil {
		t.Errorf("a megabyte in a second: %v", err)
	}
}

func TestWhoDoesNotReadIsCutOff(t *testing.T) {
	was := paceGraceFor
	t.Cleanup(func() { paceGraceFor = was })
	paceGraceFor = 300 * time.Millisecond
	wrote := make(chan error, 1)
	_, at := served(t, Network{Listen: "127.0.0.1:0"}, watched(discard)(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		var err error
		for range 4000 { // far more than the buffers of a connection hold
			if _, err = w.Write(make([]byte, 10<<10)); err != nil {
				break
			}
		}
		wrote <- err
	})))
	c, err := net.Dial("tcp", strings.TrimPrefix(at, "http://"))
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	_ = c.(*net.TCPConn).SetReadBuffer(4 << 10)
	_, _ = io.WriteString(c, "GET / HTTP/1.1\r\nHost: x\r\n\r\n")
	if err := <-wrote; err == nil {
		t.Error("forty megabytes were written to who reads nothing")
	}
}

// Over HTTP/2 a stream ends at its deadline though nobody waits for it: neither a long upload nor long thinking may end so.
func TestOverHTTP2WhatMovesIsNotCutOff(t *testing.T) {
	was := paceGraceFor
	t.Cleanup(func() { paceGraceFor = was })
	paceGraceFor = 300 * time.Millisecond
	d, at := served(t, Network{Listen: "127.0.0.1:0", TLSOwn: true}, watched(discard)(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		_, _ = io.ReadFull(r.Body, make([]byte, 1000))
		time.Sleep(2 * paceGraceFor) // a photo is looked at before the next is read
		n, err := io.Copy(io.Discard, r.Body)
		n += 1000
		_, _ = io.WriteString(w, "first ")
		time.Sleep(2 * paceGraceFor)
		fmt.Fprintf(w, "%s %d %v", r.Proto, n, err)
	})))
	authority, err := x509.ParseCertificate(d.Own().Authority())
	if err != nil {
		t.Fatal(err)
	}
	roots := x509.NewCertPool()
	roots.AddCert(authority)
	c := &http.Client{Transport: &http.Transport{ForceAttemptHTTP2: true, TLSClientConfig: &tls.Config{RootCAs: roots}}}
	defer c.CloseIdleConnections()
	read, write := io.Pipe()
	go func() {
		for range 8 {
			_, _ = write.Write(make([]byte, 50_000))
			time.Sleep(100 * time.Millisecond)
		}
		_ = write.Close()
	}()
	resp, err := c.Post(at, "image/jpeg", read)
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	if b, err := io.ReadAll(resp.Body); err != nil || string(b) != "first HTTP/2.0 400000 <nil>" {
		t.Errorf("%q, %v", b, err)
	}
	drip, dripping := io.Pipe()
	go func() {
		for range 40 {
			if _, err := dripping.Write([]byte("x")); err != nil {
				return
			}
			time.Sleep(50 * time.Millisecond)
		}
	}()
	defer dripping.Close()
	resp, err = c.Post(at, "image/jpeg", drip)
	if err == nil {
		b, _ := io.ReadAll(resp.Body)
		resp.Body.Close()
		if !strings.Contains(string(b), "timeout") && !strings.Contains(string(b), "deadline") {
			t.Errorf("a byte every twentieth second: %q", b)
		}
	}
}

// Several connections that never finish their head keep nobody from being answered; that head's own time is net/http's.
func TestSlowOnesKeepNobodyWaiting(t *testing.T) {
	_, at := served(t, Network{Listen: "127.0.0.1:0"}, watched(discard)(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) { _, _ = io.WriteString(w, "here") })))
	for range 200 {
		c, err := net.Dial("tcp", strings.TrimPrefix(at, "http://"))
		if err != nil {
			t.Fatal(err)
		}
		defer c.Close()
		_, _ = io.WriteString(c, "GET / HTTP/1.1\r\nHost: x\r\nX-Slow: ")
	}
	resp, err := http.Get(at)
	if err != nil || resp.StatusCode != 200 {
		t.Fatalf("%v", err)
	}
	resp.Body.Close()
}
