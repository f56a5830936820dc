// Makes vectors.json: roots, consistency proofs and tiles of a log whose leaf n is the eight bytes of n, little end first, as
// golang.org/x/mod/sumdb/tlog computes them (Debian packages golang-go and golang-golang-x-mod-dev 0.7.0). That library is the first
// implementation of such tiles and shares no code with ours.
//
//	GOPATH=/usr/share/gocode GO111MODULE=off go run generate.go > vectors.json
package main

import (
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"encoding/json"
	"os"
	"strings"

	"golang.org/x/mod/sumdb/tlog"
)

type root struct {
	Size int64  `json:"size"`
	Root string `json:"root"`
}

type consistency struct {
	Older  int64    `json:"older"`
	Newer  int64    `json:"newer"`
	Hashes []string `json:"hashes"`
}

type tile struct {
	Path   string `json:"path"`
	Sha256 string `json:"sha256"`
	Bytes  int    `json:"bytes"`
}

func main() {
	const leaves = 66000
	var stored []tlog.Hash
	reader := tlog.HashReaderFunc(func(indexes []int64) ([]tlog.Hash, error) {
		out := make([]tlog.Hash, len(indexes))
		for i, x := range indexes {
			out[i] = stored[x]
		}
		return out, nil
	})
	check := func(err error) {
		if err != nil {
			panic(err)
		}
	}
	for n := int64(0); n < leaves; n++ {
		var data [8]byte
		binary.LittleEndian.PutUint64(data[:], uint64(n))
		hashes, err := tlog.StoredHashes(n, data[:], reader)
		check(err)
		stored = append(stored, hashes...)
	}

	var all struct {
		Roots       []root        `json:"roots"`
		Consistency []consistency `json:"consistency"`
		Tiles       []tile        `json:"tiles"`
	}
	for _, size := range []int64{1, 2, 3, 7, 255, 256, 257, 300, 1000, 65535, 65536, 65537, leaves} {
		hash, err := tlog.TreeHash(size, reader)
		check(err)
		all.Roots = append(all.Roots, root{size, hex.EncodeToString(hash[:])})
	}
	for _, pair := range [][2]int64{{1, 2}, {1, 300}, {3, 7}, {255, 256}, {256, 257}, {256, 300}, {257, 1000}, {300, 65536}, {65535, 65537}, {65536, 65537}, {1000, leaves}, {65537, leaves}} {
		proof, err := tlog.ProveTree(pair[1], pair[0], reader)
		check(err)
		c := consistency{pair[0], pair[1], []string{}}
		for _, hash := range proof {
			c.Hashes = append(c.Hashes, hex.EncodeToString(hash[:]))
		}
		all.Consistency = append(all.Consistency, c)
	}
	tiles := tlog.NewTiles(8, 0, leaves)
	for i, t := range tiles {
		// Some of the tiles of the lowest level, and all others.
		if t.L == 0 && i%50 != 0 {
			continue
		}
		data, err := tlog.ReadTileData(t, reader)
		check(err)
		sum := sha256.Sum256(data)
		all.Tiles = append(all.Tiles, tile{strings.Replace(t.Path(), "tile/8/", "tile/", 1), hex.EncodeToString(sum[:]), len(data)})
	}
	encoder := json.NewEncoder(os.Stdout)
	encoder.SetIndent("", "  ")
	check(encoder.Encode(all))
}
