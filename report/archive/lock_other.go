//go:build !unix || solaris || aix

package archive

import (
	"errors"
	"os"
)

func tryLock(*os.File) error {
	return errors.New("this system has no lock that ends with its process; an archive needs a Unix such as Linux")
}
