# Warnings and sanitizers shared by every target of the project.
add_library(earshot_options INTERFACE)
# -pthread is what the drawing library asks for: with it everywhere all rooms share their headers.
target_compile_options(earshot_options INTERFACE -Wall -Wextra -Wpedantic -Wconversion -pthread)
if(EARSHOT_WERROR)
  target_compile_options(earshot_options INTERFACE -Werror)
endif()
if(EARSHOT_SANITIZE)
  target_compile_options(earshot_options INTERFACE -fsanitize=address,undefined
                         -fno-sanitize-recover=undefined -fno-omit-frame-pointer)
  target_link_options(earshot_options INTERFACE -fsanitize=address,undefined)
  # GCC's own manual: with the sanitizers this warning is often false (it fires inside <regex>).
  target_compile_options(earshot_options INTERFACE -Wno-maybe-uninitialized)
  # One instruction set: the others would be the same source again, at minutes of compilation each.
  target_compile_definitions(earshot_options INTERFACE HWY_COMPILE_ONLY_STATIC)
endif()

# earshot_seen(<folder> <variable>): a folder in the build tree through which the headers of one room
# are found, and of no other.
function(earshot_seen folder variable)
  string(REPLACE "/" "_" name ${folder})
  set(seen ${PROJECT_BINARY_DIR}/rooms/${name})
  cmake_path(GET folder PARENT_PATH parent)
  foreach(pair IN ITEMS "src:" "include/earshot:earshot/")
    string(REGEX MATCH "^(.*):(.*)$" ignored ${pair})
    set(from ${PROJECT_SOURCE_DIR}/${CMAKE_MATCH_1}/${folder})
    set(to ${seen}/${CMAKE_MATCH_2}${folder})
    if(EXISTS ${from})
      file(MAKE_DIRECTORY ${seen}/${CMAKE_MATCH_2}${parent})
      file(CREATE_LINK ${from} ${to} SYMBOLIC)
    endif()
  endforeach()
  set(${variable} ${seen} PARENT_SCOPE)
endfunction()

# What nearly every source includes, compiled once for each level of optimisation: the compiler takes
# no headers compiled at another. A source must include what it uses all the same: clang-tidy reads
# it without these.
set(EARSHOT_COMMON_HEADERS <algorithm> <array> <cmath> <cstddef> <cstdint> <filesystem> <functional>
    <map> <memory> <numeric> <optional> <span> <string> <string_view> <utility> <vector>
    <fmt/format.h> <fmt/ranges.h>)

# earshot_common_headers(<target> <owner>): takes those of `owner`, or is it.
function(earshot_common_headers target owner)
  if(target STREQUAL owner)
    target_precompile_headers(${target} PRIVATE ${EARSHOT_COMMON_HEADERS} ${ARGN})
  else()
    target_precompile_headers(${target} REUSE_FROM ${owner})
  endif()
endfunction()

# earshot_once(<target>): for code that is done once for a command, not once for a cell. Optimises
# less, which compiles in half of the time.
# Its sources are compiled several at a time: most of their time goes into templates that they share.
function(earshot_once target)
  target_compile_options(${target} PRIVATE $<$<CONFIG:Release>:-O1>)
  earshot_common_headers(${target} earshot_base <nlohmann/json.hpp>)
  set_target_properties(${target} PROPERTIES UNITY_BUILD ${EARSHOT_UNITY} UNITY_BUILD_BATCH_SIZE 9)
endfunction()

# earshot_room(<folder> [ONCE] SOURCES a.cpp ... [FAST b.cpp ...] [ROOMS base geo ...]
#              [LIBRARIES target ...])
#
# One static library per room, named after its folder under src (report/say is earshot_report_say).
# ROOMS are the rooms this one may use: list them all. An include of a room that is not listed does
# not compile. ONCE is as above, but for the sources under FAST.
function(earshot_room folder)
  cmake_parse_arguments(ROOM "ONCE" "" "SOURCES;FAST;ROOMS;LIBRARIES" ${ARGN})
  string(REPLACE "/" "_" name ${folder})
  earshot_seen(${folder} seen)
  add_library(earshot_${name} STATIC ${ROOM_SOURCES} ${ROOM_FAST})
  target_include_directories(earshot_${name} PUBLIC ${seen})
  list(TRANSFORM ROOM_ROOMS REPLACE "/" "_")
  list(TRANSFORM ROOM_ROOMS PREPEND earshot_)
  target_link_libraries(earshot_${name} PUBLIC earshot_options ${ROOM_ROOMS} ${ROOM_LIBRARIES})
  if(ROOM_ONCE)
    earshot_once(earshot_${name})
    set_source_files_properties(${ROOM_FAST} PROPERTIES SKIP_PRECOMPILE_HEADERS ON
                                SKIP_UNITY_BUILD_INCLUSION ON COMPILE_OPTIONS $<$<CONFIG:Release>:-O3>)
  else()
    earshot_common_headers(earshot_${name} earshot_maths)
  endif()
endfunction()
