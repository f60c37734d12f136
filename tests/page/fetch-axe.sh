#!/bin/sh
# Fetches the one file of axe-core (https://github.com/dequelabs/axe-core, MPL-2.0) that the tests of pages run in a browser.
set -eu
cd "$(dirname "$0")/../.."
version=4.14.1
sum=29348999450cdf2849a8e70b7912fc2da85a849da39c0d0d5394f51d4a9ed95c
mkdir -p target/axe && cd target/axe
if [ ! -f axe.min.js ]; then
    npm pack --silent "axe-core@$version" >/dev/null
    tar -xzf "axe-core-$version.tgz" --strip-components=1 package/axe.min.js
    rm "axe-core-$version.tgz"
fi
echo "$sum  axe.min.js" | sha256sum --check --quiet
