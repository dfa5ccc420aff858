#!/usr/bin/env bash
# Makes the two library files of the page anew, out of the npm packages named here: run it in an
# empty folder with this folder's path, then look at the difference.
#   bash .../vendored/make.sh .../vendored
set -euo pipefail
here=$1
npm init -y >/dev/null
npm install --save-exact three@0.187.0 d3-zoom@3.0.1 d3-selection@3.0.1 esbuild@0.28.2
bundle() {
  cp "$here/$1-libraries.js" .
  npx esbuild "$1-libraries.js" --bundle --minify --format=iife --global-name="$2" \
    --target=es2020 --legal-comments=none --outfile="$here/$1-libraries.min.js"
}
bundle boat THREE
bundle drawing d3
{
  for package in three d3-zoom d3-selection d3-transition d3-drag d3-dispatch d3-interpolate \
    d3-timer d3-color d3-ease; do
    version=$(node -p "require('./node_modules/$package/package.json').version")
    printf '%s %s\n\n' "$package" "$version"
    cat "node_modules/$package/LICENSE"
    printf '\n'
  done
} >"$here/LICENCES.txt"
