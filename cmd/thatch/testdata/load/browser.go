package main

import (
	"bufio"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"
)

// browser is one person's, with one connection and her cookies. It is as plain as can be: what it takes, the server that is
// measured on the same machine does not have.
type browser struct {
	host    string
	conn    net.Conn
	in      *bufio.Reader
	cookies map[string]string
}

const patience = 30 * time.Second

func newBrowser(at string) (*browser, error) {
	u, err := url.Parse(at)
	if err != nil {
		return nil, err
	}
	if u.Scheme != "http" || u.Port() == "" {
		return nil, fmt.Errorf("%s: it speaks plain HTTP, and wants the port", at)
	}
	return &browser{host: u.Host, cookies: map[string]string{}}, nil
}

func (b *browser) get(path string, squeezed bool) (*http.Response, error) {
	accept := ""
	if squeezed {
		accept = "Accept-Encoding: gzip\r\n"
	}
	return b.ask("GET", path, accept, "")
}

func (b *browser) post(path string, form url.Values) (*http.Response, error) {
	return b.ask("POST", path, "Content-Type: application/x-www-form-urlencoded\r\n", form.Encode())
}

// ask sends a request; the answer is to be read to its end, by done, before the next. The server ends a connection that was
// idle for long: then it is made anew, for what changes nothing.
func (b *browser) ask(method, path, headers, body string) (*http.Response, error) {
	for {
		fresh := b.conn == nil
		if fresh {
			conn, err := net.DialTimeout("tcp", b.host, patience)
			if err != nil {
				return nil, err
			}
			b.conn, b.in = conn, bufio.NewReaderSize(conn, 64<<10)
		}
		resp, err := b.try(method, path, headers, body)
		if err == nil {
			for _, c := range resp.Cookies() {
				if b.cookies[c.Name] = c.Value; c.MaxAge < 0 {
					delete(b.cookies, c.Name)
				}
			}
			return resp, nil
		}
		b.conn.Close()
		b.conn = nil
		if fresh || method != "GET" {
			return nil, err
		}
	}
}

func (b *browser) try(method, path, headers, body string) (*http.Response, error) {
	if err := b.conn.SetDeadline(time.Now().Add(patience)); err != nil {
		return nil, err
	}
	var head strings.Builder
	head.WriteString(method + " " + path + " HTTP/1.1\r\nHost: " + b.host + "\r\n" + headers)
	if len(b.cookies) > 0 {
		var all []string
		for name, value := range b.cookies {
			all = append(all, name+"="+value)
		}
		head.WriteString("Cookie: " + strings.Join(all, "; ") + "\r\n")
	}
	if method == "POST" {
		head.WriteString("Content-Length: " + strconv.Itoa(len(body)) + "\r\n")
	}
	head.WriteString("\r\n" + body)
	if _, err := io.WriteString(b.conn, head.String()); err != nil {
		return nil, err
	}
	return http.ReadResponse(b.in, &http.Request{Method: method})
}

// done reads an answer to its end, so that its connection can be used again.
func (b *browser) done(resp *http.Response, to io.Writer) error {
	_, err := io.Copy(to, resp.Body)
	resp.Body.Close()
	if err != nil || resp.Close {
		b.conn.Close()
		b.conn = nil
	}
	return err
}
