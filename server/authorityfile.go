package server

import (
	"crypto/ecdsa"
	"crypto/x509"
	"encoding/pem"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"time"
)

// Files of an authority, in a folder of its own that only its owner may read.
const (
	certificateFile = "authority.crt"
	keyFile         = "authority.key"
)

// AuthorityFolder is where the authority of a book lies: beside the book.
func AuthorityFolder(book string) string { return book + ".authority" }

// OpenAuthority reads the authority in dir, or makes one there if there is
// none; host is this computer's name, for its title. It overwrites nothing.
func OpenAuthority(dir, host string, now time.Time) (*Authority, error) {
	a, err := readAuthority(dir)
	if errors.Is(err, ErrNoAuthority) {
		if a, err = newAuthority(host, now); err == nil {
			err = a.write(dir)
		}
	}
	if err == nil {
		err = a.usable(now)
	}
	if err != nil {
		return nil, fmt.Errorf("authority in %s: %w", dir, err)
	}
	return a, nil
}

// ReadCertificate reads the certificate of the authority in dir, which may be
// in use.
func ReadCertificate(dir string) (*x509.Certificate, error) {
	a, err := readAuthority(dir)
	if err != nil {
		return nil, fmt.Errorf("authority in %s: %w", dir, err)
	}
	return a.cert, nil
}

func readAuthority(dir string) (*Authority, error) {
	entries, err := os.ReadDir(dir)
	if errors.Is(err, fs.ErrNotExist) || err == nil && len(entries) == 0 {
		return nil, ErrNoAuthority
	}
	if err != nil {
		return nil, fmt.Errorf("read folder: %w", err)
	}
	cert, err := readPEM(filepath.Join(dir, certificateFile), "CERTIFICATE")
	if err != nil {
		return nil, err
	}
	key, err := readPEM(filepath.Join(dir, keyFile), "PRIVATE KEY")
	if err != nil {
		return nil, err
	}
	if err := onlyOwner(dir, filepath.Join(dir, certificateFile), filepath.Join(dir, keyFile)); err != nil {
		return nil, err
	}
	return parseAuthority(cert, key)
}

// parseAuthority wants a certificate that may sign, signed by itself, and the
// key that belongs to it.
func parseAuthority(certDER, keyDER []byte) (*Authority, error) {
	cert, err := x509.ParseCertificate(certDER)
	if err != nil {
		return nil, fmt.Errorf("%w: %s: %w", ErrAuthorityDamaged, certificateFile, err)
	}
	parsed, err := x509.ParsePKCS8PrivateKey(keyDER)
	if err != nil {
		return nil, fmt.Errorf("%w: %s: %w", ErrAuthorityDamaged, keyFile, err)
	}
	key, isEC := parsed.(*ecdsa.PrivateKey)
	switch {
	case !isEC || !key.PublicKey.Equal(cert.PublicKey):
		return nil, fmt.Errorf("%w: the key in %s does not belong to the certificate in %s", ErrAuthorityDamaged, keyFile, certificateFile)
	case !cert.IsCA || cert.CheckSignatureFrom(cert) != nil:
		return nil, fmt.Errorf("%w: %s is no authority's certificate", ErrAuthorityDamaged, certificateFile)
	}
	return &Authority{cert, key}, nil
}

// readPEM reads the one block of a file.
func readPEM(path, kind string) ([]byte, error) {
	text, err := os.ReadFile(path)
	if err != nil {
		return nil, fmt.Errorf("%w: %w", ErrAuthorityDamaged, err)
	}
	block, rest := pem.Decode(text)
	if block == nil || block.Type != kind || len(rest) > 0 {
		return nil, fmt.Errorf("%w: %s does not hold one %s", ErrAuthorityDamaged, filepath.Base(path), kind)
	}
	return block.Bytes, nil
}

// onlyOwner wants that nobody else may read or write the files: whoever has
// the key can pass for this laptop. Windows keeps no such modes; there the
// folder's rights are those of the folder that it lies in.
func onlyOwner(paths ...string) error {
	if runtime.GOOS == "windows" {
		return nil
	}
	for _, path := range paths {
		info, err := os.Stat(path)
		if err != nil {
			return fmt.Errorf("%w: %w", ErrAuthorityDamaged, err)
		}
		if open := info.Mode().Perm() & 0o077; open != 0 {
			return fmt.Errorf("%w: %s has mode %04o; take the rights of others away with: chmod go= %q", ErrAuthorityOpen, filepath.Base(path), info.Mode().Perm(), path)
		}
	}
	return nil
}

// write keeps the authority in dir: whole or not at all, since it is written
// elsewhere and moved into place.
func (a *Authority) write(dir string) error {
	key, err := x509.MarshalPKCS8PrivateKey(a.key)
	if err != nil {
		return fmt.Errorf("write key: %w", err)
	}
	made, err := os.MkdirTemp(filepath.Dir(dir), filepath.Base(dir)+".new-")
	if err != nil {
		return fmt.Errorf("make folder: %w", err)
	}
	err = errors.Join(
		writePEM(filepath.Join(made, keyFile), "PRIVATE KEY", key),
		writePEM(filepath.Join(made, certificateFile), "CERTIFICATE", a.cert.Raw),
	)
	if err == nil {
		// An empty folder may be in the way; one with anything in it stays.
		if err = os.Remove(dir); err == nil || errors.Is(err, fs.ErrNotExist) {
			err = os.Rename(made, dir)
		}
	}
	if err != nil {
		return errors.Join(fmt.Errorf("write authority: %w", err), os.RemoveAll(made))
	}
	return nil
}

func writePEM(path, kind string, der []byte) error {
	file, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	err = pem.Encode(file, &pem.Block{Type: kind, Bytes: der})
	return errors.Join(err, file.Sync(), file.Close())
}
