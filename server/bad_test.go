package server_test

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
	"mime/multipart"
	"net"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"thatch/server"
	"thatch/server/login"
	"thatch/timeline"
	"thatch/timeline/outside"
)

// signedIn is a house whose people sign in, with the cookie of one of them.
func signedIn(t *testing.T, role timeline.Role) (x *house, cookie string) {
	t.Helper()
	x = built(t, func(x *house) server.Login { return login.New(x.s, login.Options{}) })
	return x, x.cookieOf(role)
}

func (x *house) cookieOf(role timeline.Role) string {
	x.t.Helper()
	resp, text := x.ask("", "POST", "/signin", formType, strings.NewReader(url.Values{"name": {nameOf[role]}, "password": {passwordOf[role]}}.Encode()))
	if resp.StatusCode != http.StatusSeeOther {
		x.t.Fatalf("signing in: %d %.300s", resp.StatusCode, text)
	}
	var cookies []string
	for _, c := range resp.Cookies() {
		cookies = append(cookies, c.Name+"="+c.Value)
	}
	return strings.Join(cookies, "; ")
}

const formType = "application/x-www-form-urlencoded"

// filled puts what exists into a line of the table.
func (x *house) filled(text string) string {
	ctx := x.t.Context()
	dog, photo, session := must(x.s.Dog(ctx, x.dog.ID)), must(x.s.Photo(ctx, x.photos[0].ID)), must(x.s.Session(ctx, x.session.ID))
	show, set, person := must(x.st.Show(ctx, x.show.ID)), must(x.s.Settings(ctx)), must(x.s.Person(ctx, x.people[timeline.Reader].ID))
	text = strings.NewReplacer(
		"{dog}", string(dog.ID), "{dogrev}", fmt.Sprint(dog.Rev), "{photo}", string(photo.ID), "{photorev}", fmt.Sprint(photo.Rev), "{session}", string(session.ID), "{sessionrev}", fmt.Sprint(session.Rev),
		"{show}", string(show.ID), "{showrev}", fmt.Sprint(show.Rev), "{settingsrev}", fmt.Sprint(set.Rev), "{reader}", string(person.ID), "{readerrev}", fmt.Sprint(person.Rev),
		"{link}", string(x.link.ID), "{heap}", string(x.heap), "{kind}", string(x.kind), "{sha}", x.sha, "{none}", unknownID, "{ownerpass}", passwordOf[timeline.Owner],
	).Replace(text)
	return repeated.ReplaceAllStringFunc(text, func(s string) string {
		m := repeated.FindStringSubmatch(s)
		return strings.Repeat(m[1], must(strconv.Atoi(m[2])))
	})
}

var repeated = regexp.MustCompile(`\{(.)\*(\d+)\}`)

// TestEveryBadRequestIsAnsweredAsTheListSays sends each over HTTP as the owner, signed in.
func TestEveryBadRequestIsAnsweredAsTheListSays(t *testing.T) {
	x, cookie := signedIn(t, timeline.Owner)
	b, err := os.ReadFile("testdata/bad.txt")
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	for i, line := range strings.Split(string(b), "\n") {
		if line == "" || line[0] == '#' {
			continue
		}
		n++
		part := append(strings.SplitN(line, "\t", 4), "", "", "")
		want, request, kind, body := part[0], part[1], part[2], part[3]
		method, path, _ := strings.Cut(x.filled(request), " ")
		switch kind {
		case "form":
			kind = formType
		case "json", "xml":
			kind = "application/" + kind
		case "-":
			kind = ""
		}
		body = x.filled(strings.NewReplacer(`\r`, "\r", `\n`, "\n").Replace(body))
		status, text := x.raw(method, path, "Cookie: "+cookie, "Content-Type: "+x.filled(kind), body)
		if strconv.Itoa(status) != want {
			t.Errorf("line %d: %s %s %.60s: %d, want %s: %.200s", i+1, part[1], kind, part[3], status, want, said(text))
		}
		if strings.Contains(part[3], "{ownerpass}") { // whoever gives her password once more goes on under a new token
			cookie = x.cookieOf(timeline.Owner)
		}
	}
	t.Logf("%d bad requests", n)
	if log := x.log.String(); strings.Contains(log, "level=ERROR") || strings.Contains(log, "panic") {
		t.Errorf("trouble in the log: %.2000s", log)
	}
}

var sentence = regexp.MustCompile(`(?s)class="fault[^"]*".*?<p>(.*?)</p>`)

func said(text string) string {
	if m := sentence.FindStringSubmatch(text); m != nil {
		return m[1]
	}
	return text
}

// raw sends a request as it is written, for http.NewRequest mends what is bad.
func (x *house) raw(method, path string, rest ...string) (status int, body string) {
	x.t.Helper()
	c, err := net.Dial("tcp", strings.TrimPrefix(x.url, "http://"))
	if err != nil {
		x.t.Fatal(err)
	}
	defer c.Close()
	_ = c.SetDeadline(time.Now().Add(time.Minute))
	content := rest[len(rest)-1]
	var b bytes.Buffer
	fmt.Fprintf(&b, "%s %s HTTP/1.1\r\nHost: %s\r\nConnection: close\r\n", method, path, strings.TrimPrefix(x.url, "http://"))
	for _, h := range rest[:len(rest)-1] {
		if !strings.HasSuffix(h, ": ") {
			b.WriteString(h + "\r\n")
		}
	}
	fmt.Fprintf(&b, "Content-Length: %d\r\n\r\n%s", len(content), content)
	go func() { _, _ = c.Write(b.Bytes()) }()
	return answered(x.t, c, method)
}

func answered(t *testing.T, c net.Conn, method string) (status int, body string) {
	t.Helper()
	resp, err := http.ReadResponse(bufio.NewReader(c), &http.Request{Method: method})
	if err != nil {
		t.Errorf("%s: no answer: %v", method, err)
		return 0, ""
	}
	defer resp.Body.Close()
	text, _ := io.ReadAll(io.LimitReader(resp.Body, 1<<20))
	return resp.StatusCode, string(text)
}

// TestWhatIsNoHTTPIsRefused sends what no client would write (RFC 9112); most of it is refused before any of ours.
func TestWhatIsNoHTTPIsRefused(t *testing.T) {
	x, cookie := signedIn(t, timeline.Owner)
	host := strings.TrimPrefix(x.url, "http://")
	head := "Host: " + host + "\r\nCookie: " + cookie + "\r\nConnection: close\r\n"
	for what, c := range map[string]struct {
		send string
		want int
	}{
		"no method":                          {" / HTTP/1.1\r\n" + head + "\r\n", 400},
		"no version":                         {"GET /\r\n" + head + "\r\n", 400},
		"a version that is none":             {"GET / HTTP/9.9\r\n" + head + "\r\n", 505},
		"no host":                            {"GET / HTTP/1.1\r\nConnection: close\r\n\r\n", 400},
		"two hosts":                          {"GET / HTTP/1.1\r\nHost: " + host + "\r\nHost: example.org\r\n\r\n", 400},
		"a host with a space":                {"GET / HTTP/1.1\r\nHost: a b\r\n\r\n", 400},
		"another host in the line":           {"GET http://example.org/ HTTP/1.1\r\n" + head + "\r\n", 421},
		"a space in the path":                {"GET /dogs new HTTP/1.1\r\n" + head + "\r\n", 400},
		"a path with a broken escape":        {"GET /dogs/%zz HTTP/1.1\r\n" + head + "\r\n", 400},
		"a control sign in a header":         {"GET / HTTP/1.1\r\n" + head + "X: a\x00b\r\n\r\n", 400},
		"a header without a colon":           {"GET / HTTP/1.1\r\n" + head + "nonsense\r\n\r\n", 400},
		"a header with a space in its name":  {"GET / HTTP/1.1\r\n" + head + "X Y: z\r\n\r\n", 400},
		"a header too long":                  {"GET / HTTP/1.1\r\n" + head + "X: " + strings.Repeat("a", 2<<20) + "\r\n\r\n", 431},
		"a path too long":                    {"GET /" + strings.Repeat("a", 2<<20) + " HTTP/1.1\r\n" + head + "\r\n", 431},
		"two lengths":                        {"POST /dogs HTTP/1.1\r\n" + head + "Content-Length: 1\r\nContent-Length: 2\r\n\r\nab", 400},
		"a length below nothing":             {"POST /dogs HTTP/1.1\r\n" + head + "Content-Length: -1\r\n\r\n", 400},
		"a length that is a word":            {"POST /dogs HTTP/1.1\r\n" + head + "Content-Length: two\r\n\r\n", 400},
		"a length beyond numbers":            {"POST /dogs HTTP/1.1\r\n" + head + "Content-Length: 99999999999999999999\r\n\r\n", 400},
		"a length beyond reason":             {"POST /dogs HTTP/1.1\r\n" + head + "Content-Length: 9999999999\r\n\r\n", 413},
		"a photo beyond reason":              {"PUT /api/v1/dogs/" + string(x.dog.ID) + "/photos/" + x.sha + " HTTP/1.1\r\n" + head + "Content-Length: 99999999\r\n\r\n", 413},
		"an encoding that is none":           {"POST /dogs HTTP/1.1\r\n" + head + "Transfer-Encoding: rot13\r\n\r\n", 501},
		"chunks that are none":               {"POST /signin HTTP/1.1\r\n" + head + "Content-Type: " + formType + "\r\nTransfer-Encoding: chunked\r\n\r\nzz\r\n", 422},
		"an expectation that is none":        {"GET / HTTP/1.1\r\n" + head + "Expect: miracles\r\n\r\n", 417},
		"a picture's range beyond its end":   {"GET /photos/" + string(x.photos[0].ID) + "/picture/view HTTP/1.1\r\n" + head + "Range: bytes=99999999-\r\n\r\n", 416},
		"a range that is none":               {"GET /photos/" + string(x.photos[0].ID) + "/picture/view HTTP/1.1\r\n" + head + "Range: bytes=z\r\n\r\n", 416},
		"a thousand ranges":                  {"GET /photos/" + string(x.photos[0].ID) + "/picture/view HTTP/1.1\r\n" + head + "Range: bytes=" + strings.Repeat("0-1,", 999) + "0-1\r\n\r\n", 206},
		"a cookie that is none":              {"GET /settings HTTP/1.1\r\nHost: " + host + "\r\nCookie: thatch_in=" + strings.Repeat("é", 50) + "\r\nConnection: close\r\n\r\n", 303},
		"a token that is none":               {"GET /api/v1/dogs HTTP/1.1\r\nHost: " + host + "\r\nAuthorization: Bearer \xff\xfe\r\nConnection: close\r\n\r\n", 401},
		"the way out instead of a path":      {"CONNECT example.org:443 HTTP/1.1\r\nHost: example.org:443\r\n\r\n", 421},
		"a TLS greeting where there is none": {"\x16\x03\x01\x00\xa5\x01\x00\x00\xa1\x03\x03", 400},
	} {
		t.Run(what, func(t *testing.T) {
			conn, err := net.Dial("tcp", host)
			if err != nil {
				t.Fatal(err)
			}
			defer conn.Close()
			_ = conn.SetDeadline(time.Now().Add(30 * time.Second))
			go func() {
				_, _ = io.WriteString(conn, c.send)
				if tcp, ok := conn.(*net.TCPConn); ok && what == "a TLS greeting where there is none" {
					_ = tcp.CloseWrite()
				}
			}()
			method, _, _ := strings.Cut(c.send, " ")
			if got, _ := answered(t, conn, method); got != c.want {
				t.Errorf("%d, want %d", got, c.want)
			}
		})
	}
}

// TestEveryHostileFileIsRefusedByNameOverHTTP sends the corpus of files that break readers, through the form and through the
// API; it also cuts and bends a good photo.
func TestEveryHostileFileIsRefusedOrTakenOverHTTP(t *testing.T) {
	dir := outside.Dir(t, "exif")
	x, cookie := signedIn(t, timeline.Owner)
	files, err := filepath.Glob(filepath.Join(dir, "hostile", "*"))
	if err != nil || len(files) < 10 {
		t.Fatalf("%d files, %v", len(files), err)
	}
	bad := map[string][]byte{"nothing.jpg": {}, "a byte.jpg": {0xff}, "zeros.jpg": make([]byte, 4096), "text.heic": []byte("GIF89a no"), "a page.jpg": []byte("<html><script>alert(1)</script>"), "<script>.jpg": x.body[:200], "a\x00b.jpg": x.body[:300]}
	for _, f := range files {
		bad[filepath.Base(f)] = must(os.ReadFile(f))
	}
	for i := 1; i < 8; i++ {
		bad[fmt.Sprintf("cut %d.jpg", i)] = x.body[:len(x.body)*i/8]
	}
	n, refused := 0, 0
	for name, content := range bad {
		var b bytes.Buffer
		m := multipart.NewWriter(&b)
		_, _ = must(m.CreateFormFile("photos", name)).Write(content)
		_ = m.Close()
		for _, to := range []string{"/dogs/{dog}/photos", "/heap", "/api/v1/dogs/{dog}/photos"} {
			resp, text := x.ask("", "POST", x.filled(to), m.FormDataContentType(), bytes.NewReader(b.Bytes()), "Cookie", cookie)
			n++
			switch {
			case resp.StatusCode == http.StatusOK || resp.StatusCode == http.StatusCreated: // a photo, though not a good one
			case resp.StatusCode == http.StatusUnprocessableEntity || resp.StatusCode == http.StatusRequestEntityTooLarge:
				refused++
			default:
				t.Errorf("%q to %s: %d %.200s", name, to, resp.StatusCode, said(text))
			}
			if strings.Contains(text, "<script>.jpg") && to != "/api/v1/dogs/{dog}/photos" {
				t.Errorf("%q comes back as it is", name)
			}
		}
	}
	t.Logf("%d hostile files and cut photos, %d requests, %d refused", len(bad), n, refused)
	if log := x.log.String(); strings.Contains(log, "panic") {
		t.Errorf("trouble in the log: %.2000s", log)
	}
}
