package cert

import (
	"crypto/tls"
	"encoding/pem"
	"os"
	"slices"
	"strings"
	"sync"
	"time"
)

// Given is a certificate in files that somebody else keeps: they are read again when they change.
type Given struct {
	certFile, keyFile string
	now               func() time.Time

	mu     sync.Mutex
	pair   *tls.Certificate
	stamp  [2]time.Time
	looked time.Time
}

const reloadEvery = 10 * time.Second

// Files reads a certificate, its chain behind it, and its key, PEM.
func Files(certFile, keyFile string, now func() time.Time) (*Given, error) {
	g := &Given{certFile: certFile, keyFile: keyFile, now: now}
	return g, g.load()
}

func (g *Given) load() error {
	stamp := g.stamps()
	pair, err := tls.LoadX509KeyPair(g.certFile, g.keyFile)
	if err != nil {
		return err
	}
	g.pair, g.stamp = &pair, stamp
	return nil
}

func (g *Given) stamps() (out [2]time.Time) {
	for i, name := range []string{g.certFile, g.keyFile} {
		if info, err := os.Stat(name); err == nil {
			out[i] = info.ModTime()
		}
	}
	return
}

// Certificate is for tls.Config.GetCertificate. Files that were changed but do not fit each other, for they are being
// written, leave the certificate that there was.
func (g *Given) Certificate(*tls.ClientHelloInfo) (*tls.Certificate, error) {
	g.mu.Lock()
	defer g.mu.Unlock()
	if now := g.now(); now.Sub(g.looked) >= reloadEvery || now.Before(g.looked) {
		g.looked = now
		if g.stamps() != g.stamp {
			_ = g.load() // tried again at the next look
		}
	}
	return g.pair, nil
}

// DNSNames are the certificate's own, without patterns.
func (g *Given) DNSNames() []string {
	return slices.DeleteFunc(slices.Clone(g.pair.Leaf.DNSNames), func(n string) bool { return strings.Contains(n, "*") })
}

func pemOf(kind string, der []byte) []byte {
	return pem.EncodeToMemory(&pem.Block{Type: kind, Bytes: der})
}
