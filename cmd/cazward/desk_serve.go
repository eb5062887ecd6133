//go:build !field

package main

import (
	"bufio"
	"context"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"encoding/base64"
	"errors"
	"fmt"
	"io"
	"log"
	"net"
	"net/http"
	"os"
	"os/signal"
	"strings"
	"syscall"
	"time"

	"github.com/charmbracelet/x/term"
	"github.com/spf13/cobra"
	"golang.org/x/crypto/bcrypt"

	"cazward/procedure/wording"
	reports "cazward/report"
)

// Limits of the served page.
const (
	serveHeaders  = 16 << 10 // bytes of the head of a request
	serveQuery    = 4 << 10  // bytes after the question mark
	serveForm     = 32 << 10 // bytes of a form
	serveAtOnce   = 16       // pages made at once; others are told to come back
	servePage     = 30 * time.Second
	serveLong     = 2 * time.Minute // a trend or a CSV file of many homes
	serveGrace    = 10 * time.Second
	minPassword   = 12 // bytes
	maxPassword   = 72 // bytes: more, bcrypt does not read
	minBcryptCost = 10
)

type serveOptions struct {
	listen, cert, key, password, lang string
	hash                              bool
}

func (d *desk) serveCmd() *cobra.Command {
	var o serveOptions
	c := &cobra.Command{Use: "serve", Short: "the queue, each home with its report, sign-off and trend as a web page on this computer", Args: cobra.NoArgs,
		Long: `serve shows the register as a web page until Ctrl-C: the queue with its filters,
each home with its report and charts, sign-off, and the trend. The page needs no
script and nothing from elsewhere.

It listens on this computer alone and prints an address that opens once, in the
browser that is to keep the page; whoever has that address first has the page.

Another address takes --cert and --key (TLS) and --password-file, a file that
holds a bcrypt hash. Make one with: cazward desk serve --make-hash >FILE`,
		RunE: func(*cobra.Command, []string) error {
			if o.hash {
				return d.makeHash()
			}
			return d.serve(o)
		}}
	f := c.Flags()
	f.StringVar(&o.listen, "listen", "127.0.0.1:0", "address and port; port 0 takes a free one")
	f.StringVar(&o.cert, "cert", "", "TLS certificate, PEM; the page answers to the names in it")
	f.StringVar(&o.key, "key", "", "private key of the certificate, PEM")
	f.StringVar(&o.password, "password-file", "", "file with the bcrypt hash of the password")
	f.BoolVar(&o.hash, "make-hash", false, "read a password and print its bcrypt hash")
	f.StringVar(&o.lang, "lang", "en", "language until the reader chooses: en or es")
	f.StringVar(&d.signers, "allowed-signers", "", "allowed-signers file by which ssh-keygen checks signatures")
	return c
}

// served is what a server is made from, checked.
type served struct {
	listen   string
	loopback bool
	cert     *tls.Certificate // nil is plain HTTP
	hash     []byte           // bcrypt; nil is entry by the printed address
	lang     wording.Lang
}

// check refuses what would let others see homes or read the password.
func (o serveOptions) check() (served, error) {
	c := served{listen: o.listen}
	var err error
	if c.lang, err = language(o.lang); err != nil {
		return c, err
	}
	host, _, err := net.SplitHostPort(o.listen)
	if err != nil {
		return c, usage("give an address and a port, for example 127.0.0.1:8080", "%q is no address to listen on", reports.Clean(o.listen))
	}
	ip := net.ParseIP(host)
	c.loopback = host == "localhost" || ip != nil && ip.IsLoopback()
	if (o.cert == "") != (o.key == "") {
		return c, usage("give --cert and --key", "a certificate and its key go together")
	}
	if !c.loopback && (o.cert == "" || o.password == "") {
		return c, usage("give --cert, --key and --password-file, or listen on 127.0.0.1", "%s can be reached from other computers: the page is served there only with TLS and a password", reports.Clean(o.listen))
	}
	if o.cert != "" {
		pair, err := tls.LoadX509KeyPair(o.cert, o.key)
		if err != nil {
			return c, refused("give a certificate and its private key, both PEM", "%v", err)
		}
		if pair.Leaf, err = x509.ParseCertificate(pair.Certificate[0]); err != nil {
			return c, refused("give a certificate", "%s: %v", o.cert, err)
		}
		if len(pair.Leaf.DNSNames)+len(pair.Leaf.IPAddresses) == 0 {
			return c, refused("make a certificate with the name or address of this computer in it", "%s names no host", o.cert)
		}
		c.cert = &pair
	}
	if o.password != "" {
		b, err := os.ReadFile(o.password)
		if err != nil {
			return c, refused("make one with: cazward desk serve --make-hash >FILE", "%v", err)
		}
		c.hash = []byte(strings.TrimSpace(string(b)))
		if cost, err := bcrypt.Cost(c.hash); err != nil || cost < minBcryptCost {
			return c, refused("make one with: cazward desk serve --make-hash >FILE", "%s holds no bcrypt hash of cost %d or more", o.password, minBcryptCost)
		}
	}
	return c, nil
}

// makeHash prints the bcrypt hash of a password that is typed unseen, or of
// the first line of standard input.
func (d *desk) makeHash() error {
	read := func(what string) (string, error) {
		if f, ok := d.e.in.(*os.File); ok && term.IsTerminal(f.Fd()) {
			fmt.Fprint(d.e.err, what)
			b, err := term.ReadPassword(f.Fd())
			fmt.Fprintln(d.e.err)
			return string(b), err
		}
		line, err := bufio.NewReader(io.LimitReader(d.e.in, 1<<10)).ReadString('\n')
		if err == io.EOF {
			err = nil
		}
		return strings.TrimRight(line, "\r\n"), err
	}
	p, err := read(d.e.say("Password: "))
	if err != nil {
		return err
	}
	if len(p) < minPassword || len(p) > maxPassword {
		return refused("choose another", "a password has %d to %d characters", minPassword, maxPassword)
	}
	if f, ok := d.e.in.(*os.File); ok && term.IsTerminal(f.Fd()) {
		if again, err := read(d.e.say("Once more: ")); err != nil || again != p {
			return refused("give the command again", "the two were not alike")
		}
	}
	h, err := bcrypt.GenerateFromPassword([]byte(p), 12)
	if err != nil {
		return err
	}
	_, err = fmt.Fprintf(d.e.out, "%s\n", h)
	return err
}

// secret is a new random word that nobody guesses.
func secret() string {
	var b [32]byte
	rand.Read(b[:]) // never fails
	return base64.RawURLEncoding.EncodeToString(b[:])
}

// serve answers until the context ends.
func (d *desk) serve(o serveOptions) error {
	c, err := o.check()
	if err != nil {
		return err
	}
	s, err := d.open(false)
	if err != nil {
		return err
	}
	defer s.Close()
	l, err := net.Listen("tcp", c.listen)
	if err != nil {
		return refused("name another port, or 0 for a free one", "cannot listen on %s: %v", reports.Clean(c.listen), err)
	}
	ctx, stop := signal.NotifyContext(d.e.ctx, syscall.SIGTERM)
	defer stop()
	v := newPages(d, s, c, l.Addr().(*net.TCPAddr))
	srv := &http.Server{
		Handler:           v.handler(),
		ReadHeaderTimeout: 5 * time.Second,
		ReadTimeout:       15 * time.Second,
		WriteTimeout:      serveLong + 30*time.Second,
		IdleTimeout:       time.Minute,
		MaxHeaderBytes:    serveHeaders,
		ErrorLog:          log.New(cleanLines{d.e.err}, "cazward: desk serve: ", 0),
		// What is being signed when Ctrl-C comes is finished.
		BaseContext: func(net.Listener) context.Context { return context.WithoutCancel(ctx) },
	}
	failed := make(chan error, 1)
	go func() {
		if c.cert != nil {
			srv.TLSConfig = &tls.Config{MinVersion: tls.VersionTLS13, Certificates: []tls.Certificate{*c.cert}}
			failed <- srv.ServeTLS(l, "", "")
			return
		}
		failed <- srv.Serve(l)
	}()
	if c.hash == nil {
		fmt.Fprintln(d.e.err, d.e.say("Open this address in your browser. It opens once; do not pass it on. Ctrl-C ends the page."))
	} else {
		fmt.Fprintln(d.e.err, d.e.say("Open this address in your browser and give the password. Ctrl-C ends the page."))
	}
	fmt.Fprintln(d.e.out, v.address())
	select {
	case err := <-failed:
		return err
	case <-ctx.Done():
	}
	end, cancel := context.WithTimeout(context.WithoutCancel(ctx), serveGrace)
	defer cancel()
	if err := srv.Shutdown(end); err != nil && !errors.Is(err, http.ErrServerClosed) {
		srv.Close()
	}
	fmt.Fprintln(d.e.err, d.e.say("the page is closed"))
	return nil
}

// cleanLines writes log lines that hold nothing a terminal would obey.
type cleanLines struct{ w io.Writer }

func (c cleanLines) Write(b []byte) (int, error) {
	for line := range strings.Lines(string(b)) {
		if _, err := fmt.Fprintln(c.w, reports.Clean(line)); err != nil {
			return 0, err
		}
	}
	return len(b), nil
}
