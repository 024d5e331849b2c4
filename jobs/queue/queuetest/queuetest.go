// Package queuetest starts a real queue server for tests, in this process and
// with JetStream on disk, from the same configuration that a server of its own
// reads.
package queuetest

import (
	"fmt"
	"net"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/nats-io/nats-server/v2/server"
	"github.com/stretchr/testify/require"
)

// Server is a queue server of one test.
type Server struct {
	config string // path
	server *server.Server
	port   int
}

// Start runs a server until the test ends. More is put behind the
// configuration's own lines.
func Start(t testing.TB, more string) *Server {
	t.Helper()
	folder := t.TempDir()
	return StartAs(t, fmt.Sprintf("jetstream {store_dir: %q}\n%s", filepath.Join(folder, "jetstream"), more))
}

// StartAs is Start with a configuration of the test's own.
func StartAs(t testing.TB, config string) *Server {
	t.Helper()
	s := &Server{config: filepath.Join(t.TempDir(), "nats-server.conf"), port: server.RANDOM_PORT}
	require.NoError(t, os.WriteFile(s.config, []byte(config), 0o600))
	s.Run(t)
	t.Cleanup(s.Stop)
	return s
}

// Run starts the server again after Stop, at the same address and with what
// was on its disk.
func (s *Server) Run(t testing.TB) {
	t.Helper()
	options, err := server.ProcessConfigFile(s.config)
	require.NoError(t, err)
	options.Host, options.Port = "127.0.0.1", s.port
	options.NoSigs, options.NoLog = true, true
	s.server, err = server.NewServer(options)
	require.NoError(t, err)
	s.server.Start()
	require.True(t, s.server.ReadyForConnections(20*time.Second), "the queue server does not start")
	s.port = s.server.Addr().(*net.TCPAddr).Port
}

// Stop ends the server; what is on its disk stays.
func (s *Server) Stop() {
	s.server.Shutdown()
	s.server.WaitForShutdown()
}

// URL is the server's address.
func (s *Server) URL() string { return fmt.Sprintf("nats://127.0.0.1:%d", s.port) }
