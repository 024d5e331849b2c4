package queue

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"net"
	"net/url"
	"os"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"github.com/nats-io/nats.go"
)

// Files name what proves who we are and whom we trust. Every field may be
// empty. At most one of Credentials, NKey and Login is given.
type Files struct {
	// Credentials of a user: a .creds file with its JWT and seed.
	Credentials string
	// NKey holds the seed of a user's NKey.
	NKey string
	// Login holds one line, user:password.
	Login string
	// CA holds the certificates (PEM) of who signs the server's, where the
	// system does not trust it anyway.
	CA string
	// Certificate and Key (PEM) are the client's own, for a server that asks
	// for them.
	Certificate, Key string
}

// Fault is an error that the user can mend: a bad address or file, a server
// that is not there, refuses us or has no JetStream.
type Fault struct{ err error }

func (f *Fault) Error() string { return f.err.Error() }
func (f *Fault) Unwrap() error { return f.err }

func fault(format string, values ...any) error { return &Fault{fmt.Errorf(format, values...)} }

// dialWait is how long a server has to answer when we connect.
const dialWait = 5 * time.Second

// line is a connection and what happened to it.
type line struct {
	*nats.Conn
	denied atomic.Pointer[denial] // the last permission that the server denied
	closed context.Context        // ends with the reason when the connection is given up

	mu      sync.Mutex
	current context.Context // ends when the connection is lost
	lose    context.CancelFunc
}

// session is a context that ends when the connection is lost next, or a
// permission denied.
func (l *line) session() context.Context {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.current
}

func (l *line) begin() {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.current, l.lose = context.WithCancel(context.Background())
}

func (l *line) end() {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.lose()
}

// denial is a permission that the server denied. It comes beside the answer to
// a request, which never comes.
type denial struct {
	err error
	at  time.Time
}

// dial connects. The connection comes back by itself after the server was
// away, however long that was; it is given up where the server refuses us.
func dial(ctx context.Context, o Options) (*line, error) {
	if err := checkServer(o.Server); err != nil {
		return nil, err
	}
	options, err := o.Files.options()
	if err != nil {
		return nil, err
	}
	closed, giveUp := context.WithCancelCause(context.Background())
	l := &line{closed: closed}
	l.begin()
	options = append(options,
		nats.Name("laneplan "+self()),
		nats.Timeout(dialWait),
		nats.MaxReconnects(-1),
		nats.ReconnectWait(500*time.Millisecond),
		nats.ReconnectBufSize(-1), // what cannot be sent fails, and is tried again by us
		nats.ErrorHandler(func(_ *nats.Conn, _ *nats.Subscription, err error) {
			if errors.Is(err, nats.ErrPermissionViolation) {
				l.denied.Store(&denial{err, time.Now()})
				l.end() // no answer will come: not to what was asked, and nobody waits for it
				l.begin()
			}
			o.Log.Warn("queue server reports an error", "error", err)
		}),
		nats.DisconnectErrHandler(func(_ *nats.Conn, err error) {
			l.end()
			if err != nil {
				o.Log.Warn("queue server is away; what is under way goes on", "error", err)
			}
		}),
		nats.ReconnectHandler(func(*nats.Conn) {
			l.begin()
			o.Log.Info("queue server is back")
		}),
		nats.ClosedHandler(func(c *nats.Conn) {
			err := c.LastError()
			if err == nil {
				err = nats.ErrConnectionClosed
			}
			giveUp(o.refusal(err))
		}),
	)
	type dialled struct {
		conn *nats.Conn
		err  error
	}
	done := make(chan dialled, 1)
	go func() {
		conn, err := nats.Connect(o.Server, options...)
		done <- dialled{conn, err}
	}()
	select {
	case d := <-done:
		if d.err != nil {
			return nil, o.refusal(d.err)
		}
		l.Conn = d.conn
		return l, nil
	case <-ctx.Done():
		go func() {
			if d := <-done; d.err == nil {
				d.conn.Close()
			}
		}()
		return nil, context.Cause(ctx)
	}
}

// checkServer refuses an address with a secret in it: it would show in the
// list of processes.
func checkServer(server string) error {
	for address := range strings.SplitSeq(server, ",") {
		u, err := url.Parse(strings.TrimSpace(address))
		switch {
		case err != nil || u.Host == "" || u.Scheme != "nats" && u.Scheme != "tls":
			return fault("want the address of a queue server such as nats://host:4222, got %q", redacted(address))
		case u.User != nil:
			return fault("the queue server's address holds a user or a password, which everyone on this machine could see: name a file that holds them")
		}
	}
	return nil
}

// redacted is an address without what may be a password.
func redacted(address string) string {
	if at := strings.LastIndex(address, "@"); at >= 0 {
		return "…" + address[at:]
	}
	return address
}

// options are the files as NATS takes them. Each is read here first, so that
// its error names it.
func (f Files) options() ([]nats.Option, error) {
	var out []nats.Option
	given := 0
	for _, file := range []struct {
		what, path string
		option     func(path string) (nats.Option, error)
	}{
		{"credentials file", f.Credentials, func(path string) (nats.Option, error) { return nats.UserCredentials(path), nil }},
		{"NKey file", f.NKey, func(path string) (nats.Option, error) {
			option, err := nats.NkeyOptionFromSeed(path)
			if err != nil {
				return nil, fmt.Errorf("want the seed of a user's NKey, which begins with SU: %w", err)
			}
			return option, nil
		}},
		{"login file", f.Login, login},
	} {
		if file.path == "" {
			continue
		}
		if given++; given > 1 {
			return nil, fault("want one of a credentials file, an NKey file and a login file, got more")
		}
		if _, err := os.ReadFile(file.path); err != nil {
			return nil, fault("%s: %w", file.what, err)
		}
		option, err := file.option(file.path)
		if err != nil {
			return nil, fault("%s %s: %w", file.what, file.path, err)
		}
		out = append(out, option)
	}
	if f.CA != "" {
		text, err := os.ReadFile(f.CA)
		if err != nil {
			return nil, fault("CA file: %w", err)
		}
		if !x509.NewCertPool().AppendCertsFromPEM(text) {
			return nil, fault("CA file %s: it holds no certificate in PEM", f.CA)
		}
		out = append(out, nats.RootCAs(f.CA))
	}
	if (f.Certificate == "") != (f.Key == "") {
		return nil, fault("want a client certificate and its key, got one of the two")
	}
	if f.Certificate != "" {
		if _, err := tls.LoadX509KeyPair(f.Certificate, f.Key); err != nil {
			return nil, fault("client certificate %s with key %s: %w", f.Certificate, f.Key, err)
		}
		out = append(out, nats.ClientCert(f.Certificate, f.Key))
	}
	return out, nil
}

// login reads user:password. It is read again at every connection, so that a
// password can be changed while a worker runs.
func login(path string) (nats.Option, error) {
	read := func() (user, password string, err error) {
		text, err := os.ReadFile(path)
		if err != nil {
			return "", "", err
		}
		user, password, ok := strings.Cut(strings.TrimRight(string(text), "\r\n"), ":")
		if !ok || user == "" || strings.ContainsAny(password, "\r\n") {
			return "", "", errors.New("want one line, user:password")
		}
		return user, password, nil
	}
	if _, _, err := read(); err != nil {
		return nil, err
	}
	return nats.UserInfoHandler(func() (string, string) {
		user, password, _ := read() // where it is gone the server refuses us
		return user, password
	}), nil
}

// refusal says in one sentence why there is no connection.
func (o Options) refusal(err error) error {
	var unknown x509.UnknownAuthorityError
	var name x509.HostnameError
	var expired x509.CertificateInvalidError
	var network net.Error
	switch {
	case errors.Is(err, nats.ErrAuthorization), errors.Is(err, nats.ErrAuthExpired), errors.Is(err, nats.ErrAuthRevoked):
		return fault("the queue server at %s refuses %s: %w", o.Server, o.Files.who(), err)
	case errors.Is(err, nats.ErrNoServers):
		return fault("no queue server answers at %s: is it running there, and does a firewall let us through?", o.Server)
	case errors.As(err, &unknown):
		return fault("the queue server at %s has a certificate of an authority that this machine does not trust: name its CA file (%w)", o.Server, err)
	case errors.As(err, &name), errors.As(err, &expired):
		return fault("the queue server at %s has a certificate that does not hold: %w", o.Server, err)
	case errors.Is(err, nats.ErrSecureConnWanted):
		return fault("the queue server at %s does not speak TLS, and a tls address or a CA file asks for it", o.Server)
	case errors.Is(err, nats.ErrTLS), strings.Contains(err.Error(), "tls: "):
		return fault("the queue server at %s refuses a TLS connection: does it want a client certificate? (%w)", o.Server, err)
	case errors.As(err, &network), errors.Is(err, nats.ErrTimeout):
		return fault("no queue server answers at %s: %w", o.Server, err)
	}
	return fault("the queue server at %s: %w", o.Server, err)
}

// who names what the server refused.
func (f Files) who() string {
	switch {
	case f.Credentials != "":
		return "the credentials in " + f.Credentials
	case f.NKey != "":
		return "the NKey in " + f.NKey
	case f.Login != "":
		return "the user and password in " + f.Login
	}
	return "us, since we have no credentials: name a file that holds them"
}
