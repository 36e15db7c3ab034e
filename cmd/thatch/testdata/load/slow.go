package main

import (
	"context"
	"net"
	"time"
)

// slowly sends a request a byte a second and never ends it.
func slowly(ctx context.Context, host string) {
	c, err := net.DialTimeout("tcp", host, 5*time.Second)
	if err != nil {
		return
	}
	defer c.Close()
	for _, b := range []byte("GET / HTTP/1.1\r\nHost: " + host + "\r\nX-Slow: aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa") {
		if _, err := c.Write([]byte{b}); err != nil {
			return
		}
		select {
		case <-ctx.Done():
			return
		case <-time.After(time.Second):
		}
	}
}
