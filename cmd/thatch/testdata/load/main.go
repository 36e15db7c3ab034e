// Command load fills a folder with an invented salon of any size, and asks a running one for pages, pictures and logs as
// many people at once would. Times count from the instant a request was due, so that a server that falls behind is not
// spared the requests it kept waiting.
//
//	go run ./cmd/thatch/testdata/load -seed DIR -dogs 200 -photos 10000
//	go run ./cmd/thatch/testdata/load -url http://127.0.0.1:8420 -people 100 -rate 5 -for 2m
package main

import (
	"context"
	"flag"
	"fmt"
	"os"
	"time"
)

func main() {
	var l load
	dir := flag.String("seed", "", "folder to fill")
	dogs := flag.Int("dogs", 200, "dogs to make")
	photos := flag.Int("photos", 10000, "photos to make")
	sessions := flag.Int("sessions", 10, "sessions of each dog")
	flag.StringVar(&l.url, "url", "", "running salon")
	flag.IntVar(&l.people, "people", 100, "people at once")
	flag.Float64Var(&l.rate, "rate", 5, "requests a second of each")
	flag.DurationVar(&l.lasting, "for", 2*time.Minute, "how long")
	flag.DurationVar(&l.before, "before", 0, "how long they are at it before times count")
	flag.IntVar(&l.slow, "slow", 0, "slow connections beside them")
	flag.BoolVar(&l.accounts, "accounts", true, "everybody has an account")
	flag.IntVar(&l.pid, "pid", 0, "process to watch: open files, memory")
	flag.Parse()
	var err error
	switch {
	case *dir != "":
		err = seed(context.Background(), *dir, *dogs, *photos, *sessions, count(l.accounts, l.people))
	case l.url != "":
		err = l.run(context.Background())
	default:
		flag.Usage()
		os.Exit(2)
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

func count(yes bool, n int) int {
	if yes {
		return n
	}
	return 0
}
