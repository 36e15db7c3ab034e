package browsed

import (
	"io"
	"net"
	"net/http"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"
)

// wire is the network between a phone and the salon's computer, which can be cut.
type wire struct {
	t    *testing.T
	to   string // host:port behind it
	at   string
	mu   sync.Mutex
	ln   net.Listener
	open map[net.Conn]bool
	up   atomic.Int64         // bytes sent toward the salon
	cuts []int64              // cut by itself when so many bytes went up, each once
	back time.Duration        // and mended after this
	cut  atomic.Int64         // how often it was
	seen func(request string) // first line of what goes up, where it begins a request
	slow time.Duration        // per piece of 16 kB, so that a photo takes its time
	deaf atomic.Bool          // photos are hung up on, everything else gets through
}

func newWire(t *testing.T, base string) *wire {
	t.Helper()
	w := &wire{t: t, to: strings.TrimPrefix(base, "http://"), open: map[net.Conn]bool{}, back: 700 * time.Millisecond}
	w.at = "127.0.0.1:0"
	w.Mend()
	t.Cleanup(w.Cut)
	return w
}

func (w *wire) base() string { return "http://" + w.at }

// Cut closes everything that is open and lets nobody in.
func (w *wire) Cut() {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.ln == nil {
		return
	}
	_ = w.ln.Close()
	w.ln = nil
	for c := range w.open {
		_ = c.Close()
	}
	clear(w.open)
	w.cut.Add(1)
}

// Mend listens again where it listened before.
func (w *wire) Mend() {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.ln != nil {
		return
	}
	ln, err := net.Listen("tcp", w.at)
	if err != nil {
		w.t.Errorf("the wire: %v", err)
		return
	}
	w.ln, w.at = ln, ln.Addr().String()
	go func() {
		for {
			c, err := ln.Accept()
			if err != nil {
				return
			}
			go w.carry(c)
		}
	}()
}

func (w *wire) carry(c net.Conn) {
	far, err := net.Dial("tcp", w.to)
	if err != nil {
		_ = c.Close()
		return
	}
	w.mu.Lock()
	if w.ln == nil {
		w.mu.Unlock()
		_, _ = c.Close(), far.Close()
		return
	}
	w.open[c], w.open[far] = true, true
	w.mu.Unlock()
	go func() {
		_, _ = io.Copy(c, far)
		_, _ = c.Close(), far.Close()
	}()
	piece := make([]byte, 16<<10)
	for {
		n, err := c.Read(piece)
		if n > 0 {
			if w.seen != nil {
				w.seen(firstLine(piece[:n]))
			}
			if line := firstLine(piece[:n]); w.deaf.Load() && strings.HasPrefix(line, "POST ") && strings.Contains(line, "/photos ") {
				break
			}
			if w.slow > 0 {
				time.Sleep(w.slow)
			}
			if w.mayCut(w.up.Add(int64(n))) {
				return
			}
			if _, err := far.Write(piece[:n]); err != nil {
				break
			}
		}
		if err != nil {
			break
		}
	}
	_, _ = c.Close(), far.Close()
	w.mu.Lock()
	delete(w.open, c)
	delete(w.open, far)
	w.mu.Unlock()
}

// firstLine is that of a request, where a piece begins one.
func firstLine(piece []byte) string {
	line, _, _ := strings.Cut(string(piece), "\r\n")
	if !strings.HasSuffix(line, " HTTP/1.1") {
		return ""
	}
	return line
}

func (w *wire) mayCut(up int64) bool {
	w.mu.Lock()
	due := len(w.cuts) > 0 && up >= w.cuts[0]
	if due {
		w.cuts = w.cuts[1:]
	}
	w.mu.Unlock()
	if due {
		w.Cut()
		time.AfterFunc(w.back, w.Mend)
	}
	return due
}

func TestTheWireCarriesCutsAndMends(t *testing.T) {
	srv := &http.Server{Handler: http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) { _, _ = io.Copy(w, r.Body) })}
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	go func() { _ = srv.Serve(ln) }()
	defer srv.Close()
	w := newWire(t, "http://"+ln.Addr().String())
	ask := func() error {
		c := http.Client{Transport: &http.Transport{DisableKeepAlives: true}, Timeout: 5 * time.Second}
		resp, err := c.Post(w.base(), "text/plain", strings.NewReader(strings.Repeat("x", 100_000)))
		if err != nil {
			return err
		}
		defer resp.Body.Close()
		b, err := io.ReadAll(resp.Body)
		if err == nil && len(b) != 100_000 {
			err = io.ErrUnexpectedEOF
		}
		return err
	}
	if err := ask(); err != nil {
		t.Fatal(err)
	}
	w.Cut()
	if ask() == nil {
		t.Error("a cut wire carries")
	}
	w.Mend()
	w.cuts = []int64{w.up.Load() + 50_000}
	if ask() == nil {
		t.Error("a wire that is cut on the way carries")
	}
	time.Sleep(2 * w.back)
	if err := ask(); err != nil || w.cut.Load() != 2 {
		t.Errorf("mended: %v after %d cuts", err, w.cut.Load())
	}
}
