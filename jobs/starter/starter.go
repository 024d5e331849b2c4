// Package starter holds what a new shop begins with: a commented shop file and
// a small order book as CSV and XLSX. They show a spice mill that is invented
// from end to end. It reads and plans nothing.
//
//	paths, err := starter.Write("myshop", false)
package starter

import (
	"bytes"
	_ "embed"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"laneplan/jobs"
	"laneplan/jobs/intake/orderbook"
	"laneplan/jobs/intake/shopfile"
	"laneplan/jobs/wholefile"
)

// The files that Write makes.
const (
	ShopFile   = "shop.yaml"
	SchemaFile = "shop.schema.json"
	CSVFile    = "orders.csv"
	XLSXFile   = "orders.xlsx"
)

// PlanningDate is the day for which the example order book is a day's work.
const PlanningDate = "2026-11-30"

//go:embed shop.yaml
var shopText []byte

//go:embed orders.csv
var ordersText []byte

// Book is the example in memory: its shop, its order lines, and the day whose
// work they are.
func Book() (*jobs.Shop, []jobs.OrderLine, time.Time, error) {
	shop, err := shopfile.Parse(ShopFile, shopText)
	if err != nil {
		return nil, nil, time.Time{}, err
	}
	book, err := orderbook.Parse(CSVFile, bytes.NewReader(ordersText), shop)
	if err != nil {
		return nil, nil, time.Time{}, err
	}
	day, err := time.Parse(time.DateOnly, PlanningDate)
	return shop, book.Lines, day, err
}

// ErrThere says that a file to be written is there already.
var ErrThere = errors.New("is there already")

// Write puts the example's files in a folder, which is made where it is not
// there, and returns their paths: all are written or none. A file that is
// there already is kept and an error that wraps ErrThere, unless replace is
// set.
func Write(folder string, replace bool) ([]string, error) {
	shop, lines, _, err := Book()
	if err != nil {
		return nil, err
	}
	content := func(data []byte) func(io.Writer) error {
		return func(w io.Writer) error { _, err := w.Write(data); return err }
	}
	files := []struct {
		name  string
		write func(io.Writer) error
	}{
		{ShopFile, content(shopText)},
		{SchemaFile, content(shopfile.Schema)},
		{CSVFile, content(ordersText)},
		{XLSXFile, func(w io.Writer) error { return orderbook.WriteXLSX(w, lines, shop.Book) }},
	}
	var set wholefile.Set
	defer set.Discard()
	var paths []string
	for _, file := range files {
		path := filepath.Join(folder, file.name)
		if _, err := os.Lstat(path); !replace && !errors.Is(err, fs.ErrNotExist) {
			return nil, fmt.Errorf("%s %w", path, ErrThere)
		}
		if err := set.Add(path, 0o644, file.write); err != nil {
			return nil, err
		}
		paths = append(paths, path)
	}
	return paths, set.Commit()
}
