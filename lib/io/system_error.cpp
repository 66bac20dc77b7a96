#include <cerrno>
#include <cstring>
#include <string>

#include "io/system.h"

namespace cardseal::io {

namespace {

std::string reason_of(int number) {
  const char* text = ::strerrordesc_np(number);
  std::string out = text != nullptr ? text : "error " + std::to_string(number);
  if (!out.empty() && out[0] >= 'A' && out[0] <= 'Z') {
    out[0] = static_cast<char>(out[0] - 'A' + 'a');
  }
  return out;
}

Error not_there(bool reading, Error error) {
  error.kind = reading ? ErrorKind::no_input : ErrorKind::no_create;
  error.code = reading ? "no-such-file" : "no-such-folder";
  error.hint = reading ? "check the name" : "make the output's folder first";
  return error;
}

Error exists(Error error) {
  error.kind = ErrorKind::no_create;
  error.code = "output-exists";
  error.what = "output exists";
  error.hint = "use another name or --force";
  return error;
}

Error forbidden(bool reading, Error error) {
  error.kind = ErrorKind::permission;
  error.code = "permission";
  error.hint = reading ? "check who may read it" : "check who may write in its folder";
  return error;
}

Error unsuitable(bool reading, const char* code, Error error) {
  error.kind = reading ? ErrorKind::no_input : ErrorKind::no_create;
  error.code = code;
  error.hint = reading ? "name a file" : "use another name";
  return error;
}

Error broken(bool reading, Error error) {
  error.kind = ErrorKind::io;
  error.code = reading ? "read-failed" : "write-failed";
  return error;
}

Error full(Error error) {
  error.kind = ErrorKind::io;
  error.code = "no-space";
  error.hint = "make room, then try again";
  return error;
}

} // namespace

Error error_from(Errno number, const Path& path, const char* doing) {
  const bool reading = std::string_view(doing) == "read";
  Error error;
  error.place.file = path.string();
  error.what = std::string("can't ") + doing + ": " + reason_of(number.number);
  switch (number.number) {
  case ENOENT:
  case ENOTDIR:
    return not_there(reading, std::move(error));
  case EEXIST:
    return exists(std::move(error));
  case EACCES:
  case EPERM:
  case EROFS:
    return forbidden(reading, std::move(error));
  case EISDIR:
    return unsuitable(reading, "is-a-folder", std::move(error));
  case ENAMETOOLONG:
  case ELOOP:
    return unsuitable(reading, "unusable-name", std::move(error));
  case ENOSPC:
  case EDQUOT:
    return full(std::move(error));
  default:
    return broken(reading, std::move(error));
  }
}

} // namespace cardseal::io
