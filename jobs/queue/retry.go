package queue

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/nats-io/nats.go"
	"github.com/nats-io/nats.go/jetstream"
)

const (
	// answerWait is how long the server has for one request.
	answerWait = 5 * time.Second
	// transferWait is how long a whole object has, over slow lines too.
	transferWait = 2 * time.Minute
	// retryWait is how long we rest before the next request while the server
	// is away.
	retryWait = 200 * time.Millisecond
)

// passing says that the same request may succeed later: the server is away,
// starting or overloaded. Where our own context ended is for the caller to see.
func passing(err error) bool {
	for _, known := range []error{
		context.DeadlineExceeded, context.Canceled, nats.ErrTimeout, nats.ErrNoResponders, nats.ErrDisconnected, nats.ErrStaleConnection,
		nats.ErrReconnectBufExceeded, nats.ErrConnectionReconnecting,
		jetstream.ErrNoStreamResponse, jetstream.ErrServerShutdown, jetstream.ErrNoHeartbeat,
		jetstream.ErrConsumerLeadershipChanged, jetstream.ErrAsyncPublishTimeout,
	} {
		if errors.Is(err, known) {
			return true
		}
	}
	var api *jetstream.APIError
	return errors.As(err, &api) && api.Code >= 500
}

// code is JetStream's own code of an error, 0 where it has none.
func code(err error) jetstream.ErrorCode {
	var api *jetstream.APIError
	if errors.As(err, &api) {
		return api.ErrorCode
	}
	return 0
}

// outOfSequence says that something was written in between, or is there
// already.
func outOfSequence(err error) bool {
	switch code(err) {
	case jetstream.JSErrCodeStreamWrongLastSequence, jetstream.JSErrCodeStreamWrongLastSequenceConstant:
		return true
	}
	return errors.Is(err, jetstream.ErrKeyExists) || errors.Is(err, jetstream.ErrKeyRevisionMismatch)
}

// ask makes one request of the server, again and again while the server is
// away, until ctx ends or the connection is given up.
func (l *line) ask(ctx context.Context, request func(ctx context.Context) error) error {
	return l.askFor(ctx, answerWait, request)
}

// askFor is ask with another time for one request. A request ends with the
// session in which it was made: after that no answer comes.
func (l *line) askFor(ctx context.Context, most time.Duration, request func(ctx context.Context) error) error {
	ctx, stop := context.WithCancelCause(ctx)
	defer stop(nil)
	defer context.AfterFunc(l.closed, func() { stop(context.Cause(l.closed)) })()
	for {
		begun := time.Now()
		session := l.session()
		limited, cancel := context.WithTimeout(ctx, most)
		detach := context.AfterFunc(session, cancel)
		err := request(limited)
		detach()
		cancel()
		switch denied := l.denied.Load(); {
		case err == nil:
			return nil
		case ctx.Err() != nil:
			return context.Cause(ctx)
		case denied != nil && denied.at.After(begun):
			return fault("the queue server does not allow our user what a queue needs: %w", denied.err)
		case l.IsClosed():
			<-l.closed.Done()
			return context.Cause(l.closed)
		case !passing(err) && session.Err() == nil:
			return err
		}
		if err := rest(ctx, retryWait); err != nil {
			return err
		}
	}
}

// get is ask for what has a value.
func get[T any](ctx context.Context, l *line, request func(ctx context.Context) (T, error)) (value T, err error) {
	err = l.ask(ctx, func(ctx context.Context) error {
		value, err = request(ctx)
		return err
	})
	return value, err
}

// rest waits, or less where ctx ends.
func rest(ctx context.Context, d time.Duration) error {
	timer := time.NewTimer(d)
	defer timer.Stop()
	select {
	case <-timer.C:
		return nil
	case <-ctx.Done():
		return context.Cause(ctx)
	}
}

// doing puts what was being done before an error; a *Fault says enough.
func doing(what string, err error) error {
	var known *Fault
	if err == nil || errors.As(err, &known) {
		return err
	}
	return fmt.Errorf("%s: %w", what, err)
}
