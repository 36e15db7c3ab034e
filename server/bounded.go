package server

import (
	"net"
	"net/netip"
	"sync"

	"thatch/server/guard"
)

// Connections at a time, in all and from one address. A salon of a hundred people behind one address has six from each
// browser; slow ones beside them cost a file and little memory each.
const (
	mostConns   = 4096
	mostFromOne = 1536
)

// bound turns connections away beyond the limits, at once: waiting for a place is what the slow ones want.
type bound struct {
	net.Listener
	mu   sync.Mutex
	all  int
	from map[netip.Prefix]int
}

func bounded(ln net.Listener) net.Listener {
	return &bound{Listener: ln, from: map[netip.Prefix]int{}}
}

func (b *bound) Accept() (net.Conn, error) {
	for {
		c, err := b.Listener.Accept()
		if err != nil {
			return nil, err
		}
		home := homeOf(c.RemoteAddr())
		b.mu.Lock()
		full := b.all >= mostConns || b.from[home] >= mostFromOne
		if !full {
			b.all++
			b.from[home]++
		}
		b.mu.Unlock()
		if full {
			_ = c.Close()
			continue
		}
		return &boundConn{Conn: c, leave: sync.OnceFunc(func() { b.leave(home) })}, nil
	}
}

func (b *bound) leave(home netip.Prefix) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.all--
	if b.from[home]--; b.from[home] == 0 {
		delete(b.from, home)
	}
}

func homeOf(a net.Addr) netip.Prefix {
	if tcp, ok := a.(*net.TCPAddr); ok {
		return guard.Home(tcp.AddrPort().Addr())
	}
	return netip.Prefix{}
}

type boundConn struct {
	net.Conn
	leave func()
}

func (c *boundConn) Close() error {
	c.leave()
	return c.Conn.Close()
}
