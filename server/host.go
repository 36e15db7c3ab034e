package server

import (
	"net"
	"net/netip"
	"os"
	"slices"
	"strings"
	"sync"
	"time"
)

// Hosts are the names that this server answers to. Everything else is somebody else's name pointed at this machine.
type Hosts struct {
	names   []string
	machine bool // the machine's own addresses too, as they are now

	mu    sync.Mutex
	asked time.Time
	own   []netip.Addr
	look  func() []netip.Addr
}

// LoopbackHosts are localhost and the loopback addresses, and further names.
func LoopbackHosts(more ...string) *Hosts {
	h := &Hosts{names: []string{"localhost", "127.0.0.1", "::1"}, look: machineAddresses}
	for _, name := range more {
		h.names = append(h.names, plainName(name))
	}
	return h
}

// machineHosts adds the name of the machine, alone and with .local (RFC 6762), and its addresses.
func machineHosts(more ...string) *Hosts {
	h := LoopbackHosts(more...)
	h.machine = true
	h.names = append(h.names, machineNames()...)
	return h
}

// Ours tells whether host, without its port, is one of ours.
func (h *Hosts) Ours(host string) bool {
	if host == "" {
		return false
	}
	if slices.Contains(h.names, strings.TrimSuffix(host, ".")) {
		return true
	}
	if !h.machine {
		return false
	}
	addr, err := netip.ParseAddr(host)
	return err == nil && slices.Contains(h.addresses(), addr.Unmap().WithZone(""))
}

// loopback tells whether only this machine is answered, by no other name.
func (h *Hosts) loopback() bool { return !h.machine && len(h.names) == 3 }

// addresses are looked up again after ten seconds: a machine's change while it sleeps.
func (h *Hosts) addresses() []netip.Addr {
	h.mu.Lock()
	defer h.mu.Unlock()
	if now := time.Now(); now.Sub(h.asked) > 10*time.Second {
		h.own, h.asked = h.look(), now
	}
	return h.own
}

func machineAddresses() []netip.Addr {
	var out []netip.Addr
	all, _ := net.InterfaceAddrs() // none: only loopback is served then
	for _, a := range all {
		if p, err := netip.ParsePrefix(a.String()); err == nil {
			out = append(out, p.Addr().Unmap().WithZone(""))
		}
	}
	return out
}

func machineNames() []string {
	name, err := os.Hostname()
	if err != nil || name == "" {
		return nil
	}
	name = plainName(name)
	short, _, _ := strings.Cut(name, ".")
	return slices.Compact([]string{name, short, short + ".local"})
}

func plainName(name string) string {
	return strings.TrimSuffix(strings.ToLower(strings.TrimSpace(name)), ".")
}

// hostname is the host without its port, lower case, an IPv6 address without brackets; "" where it makes no sense.
func hostname(hostport string) string {
	host := hostport
	if h, port, err := net.SplitHostPort(hostport); err == nil {
		if strings.Trim(port, "0123456789") != "" {
			return ""
		}
		host = h
	}
	return strings.ToLower(strings.Trim(host, "[]"))
}
