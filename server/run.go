package server

import (
	"context"
	"errors"
	"log/slog"
	"net"
	"net/http"
	"syscall"
	"time"

	"thatch/timeline"
)

// Time that a connection may take before its request is known, and between two. What a request itself may take is in
// pace.go.
const (
	headerTime   = 10 * time.Second
	idleTime     = 2 * time.Minute
	farewellTime = 10 * time.Second
)

// Serve answers on a loopback address until ctx ends, then lets running requests finish. ready, if not nil, is told the
// address once it listens ("127.0.0.1:0" takes a free port).
//
// Faults: Invalid for an address that is not loopback or makes no sense, Busy where the port is taken.
func Serve(ctx context.Context, address string, handler http.Handler, ready func(url string)) error {
	if err := loopbackOnly(address); err != nil {
		return err
	}
	d, err := Network{Listen: address}.Open("")
	if err != nil {
		return err
	}
	return d.Serve(ctx, handler, nil, func(urls []string) {
		if ready != nil {
			ready(urls[0])
		}
	})
}

// CheckListen says what Serve would say of the address right now, and leaves it free: for a command that has something
// to do first.
func CheckListen(address string) error {
	if err := loopbackOnly(address); err != nil {
		return err
	}
	return Network{Listen: address}.Check()
}

func loopbackOnly(address string) error {
	host, err := hostOf(address)
	if err == nil && !loopbackHost(host) {
		err = timeline.NewFault(timeline.Invalid, "fault.listen.loopback", "address", address)
	}
	return err
}

// Serve answers until ctx ends, then lets running requests finish. ready, if not nil, is told where the salon is found
// once it listens. log: nil, nothing of what goes wrong before a request is known is written down.
func (d *Door) Serve(ctx context.Context, handler http.Handler, log *slog.Logger, ready func(urls []string)) error {
	ln, err := listen(d.listen)
	if err != nil {
		return err
	}
	if log == nil {
		log = slog.New(slog.DiscardHandler)
	}
	srv := &http.Server{
		Handler:           handler,
		ReadHeaderTimeout: headerTime,
		IdleTimeout:       idleTime,
		MaxHeaderBytes:    32 << 10,
		TLSConfig:         d.tls(),
		ErrorLog:          slog.NewLogLogger(log.Handler(), slog.LevelDebug), // handshakes that fail: anybody can make any number
		HTTP2:             &http.HTTP2Config{MaxConcurrentStreams: 100, MaxReceiveBufferPerConnection: 1 << 20, MaxReceiveBufferPerStream: 512 << 10, SendPingTimeout: time.Minute, PingTimeout: 15 * time.Second, WriteByteTimeout: paceGrace},
	}
	ended := make(chan error, 1)
	go func() {
		if srv.TLSConfig != nil {
			ended <- srv.ServeTLS(bounded(ln), "", "")
		} else {
			ended <- srv.Serve(bounded(ln))
		}
	}()
	if ready != nil {
		ready(d.addressesAt(ln.Addr()))
	}
	select {
	case err := <-ended:
		return err
	case <-ctx.Done():
	}
	grace, cancel := context.WithTimeout(context.Background(), farewellTime)
	defer cancel()
	if err := srv.Shutdown(grace); err != nil {
		return srv.Close() // the slow ones are cut off; what was acknowledged is durable
	}
	return nil
}

func listen(address string) (net.Listener, error) {
	host, err := hostOf(address)
	if err != nil {
		return nil, err
	}
	if host == "localhost" { // a name may resolve to ::1 alone
		_, port, _ := net.SplitHostPort(address)
		address = net.JoinHostPort("127.0.0.1", port)
	}
	ln, err := net.Listen("tcp", address)
	if err != nil {
		if errors.Is(err, syscall.EADDRINUSE) || errors.Is(err, wsaAddrInUse) {
			return nil, timeline.NewFault(timeline.Busy, "fault.listen.taken", "address", address).Because(err)
		}
		return nil, timeline.NewFault(timeline.Busy, "fault.listen.failed", "address", address).Because(err)
	}
	return ln, nil
}

// wsaAddrInUse is what Windows calls a taken port (WSAEADDRINUSE).
const wsaAddrInUse = syscall.Errno(10048)

// hostOf is the host of an address to listen on; "" means all of the machine's.
func hostOf(address string) (string, error) {
	wrong := timeline.NewFault(timeline.Invalid, "fault.listen.address", "address", address)
	host, port, err := net.SplitHostPort(address)
	if err != nil || port == "" {
		return "", wrong.Because(err)
	}
	if _, err := net.LookupPort("tcp", port); err != nil {
		return "", wrong.Because(err)
	}
	return host, nil
}

// loopbackHost takes a name only if it is localhost: another name may resolve to a loopback address today and to the
// shop's network tomorrow.
func loopbackHost(host string) bool {
	ip := net.ParseIP(host)
	return host == "localhost" || ip != nil && ip.IsLoopback()
}
