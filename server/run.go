package server

import (
	"context"
	"errors"
	"net"
	"net/http"
	"syscall"
	"time"

	"thatch/timeline"
)

// Time that a request may take. Reading is generous: forty megabytes from a phone on a salon's Wi-Fi.
const (
	headerTime   = 10 * time.Second
	readTime     = 10 * time.Minute
	writeTime    = 10 * time.Minute
	idleTime     = 2 * time.Minute
	farewellTime = 10 * time.Second
)

// Serve answers on a loopback address until ctx ends, then lets running requests finish. ready, if not nil, is told the
// address once it listens ("127.0.0.1:0" takes a free port).
//
// Faults: Invalid for an address that is not loopback or makes no sense, Busy where the port is taken.
func Serve(ctx context.Context, listen string, handler http.Handler, ready func(url string)) error {
	ln, err := open(listen)
	if err != nil {
		return err
	}
	srv := &http.Server{
		Handler:           handler,
		ReadHeaderTimeout: headerTime,
		ReadTimeout:       readTime,
		WriteTimeout:      writeTime,
		IdleTimeout:       idleTime,
		MaxHeaderBytes:    64 << 10,
	}
	ended := make(chan error, 1)
	go func() { ended <- srv.Serve(ln) }()
	if ready != nil {
		ready("http://" + ln.Addr().String())
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

// CheckListen says what Serve would say of the address right now, and leaves it free: for a command that has something
// to do first.
func CheckListen(listen string) error {
	ln, err := open(listen)
	if err != nil {
		return err
	}
	return ln.Close()
}

func open(listen string) (net.Listener, error) {
	addr, err := loopback(listen)
	if err != nil {
		return nil, err
	}
	ln, err := net.Listen("tcp", addr)
	if err != nil {
		if errors.Is(err, syscall.EADDRINUSE) || errors.Is(err, wsaAddrInUse) {
			return nil, timeline.NewFault(timeline.Busy, "fault.listen.taken", "address", listen).Because(err)
		}
		return nil, timeline.NewFault(timeline.Busy, "fault.listen.failed", "address", listen).Because(err)
	}
	return ln, nil
}

// wsaAddrInUse is what Windows calls a taken port (WSAEADDRINUSE).
const wsaAddrInUse = syscall.Errno(10048)

// loopback checks the address before anything listens. A name is taken only if it is localhost: another name may
// resolve to a loopback address today and to the shop's network tomorrow.
func loopback(listen string) (string, error) {
	host, port, err := net.SplitHostPort(listen)
	if err != nil || port == "" {
		return "", timeline.NewFault(timeline.Invalid, "fault.listen.address", "address", listen).Because(err)
	}
	if host == "localhost" {
		return net.JoinHostPort("127.0.0.1", port), nil
	}
	ip := net.ParseIP(host)
	if ip == nil || !ip.IsLoopback() {
		return "", timeline.NewFault(timeline.Invalid, "fault.listen.loopback", "address", listen)
	}
	if _, err := net.LookupPort("tcp", port); err != nil {
		return "", timeline.NewFault(timeline.Invalid, "fault.listen.address", "address", listen).Because(err)
	}
	return listen, nil
}
