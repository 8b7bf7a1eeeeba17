# Warnings and sanitizers shared by every target of the project.
add_library(earshot_options INTERFACE)
target_compile_options(earshot_options INTERFACE -Wall -Wextra -Wpedantic -Wconversion)
if(EARSHOT_WERROR)
  target_compile_options(earshot_options INTERFACE -Werror)
endif()
if(EARSHOT_SANITIZE)
  target_compile_options(earshot_options INTERFACE -fsanitize=address,undefined
                         -fno-sanitize-recover=undefined -fno-omit-frame-pointer)
  target_link_options(earshot_options INTERFACE -fsanitize=address,undefined)
  # One instruction set: the others would be the same source again, at minutes of compilation each.
  target_compile_definitions(earshot_options INTERFACE HWY_COMPILE_ONLY_STATIC)
endif()

# earshot_room(<name> SOURCES a.cpp ... [ROOMS base geo ...] [LIBRARIES target ...])
#
# One static library per room. ROOMS are the rooms this one may use: list them all, since the list
# is what keeps dependencies pointing one way.
function(earshot_room name)
  cmake_parse_arguments(ROOM "" "" "SOURCES;ROOMS;LIBRARIES" ${ARGN})
  add_library(earshot_${name} STATIC ${ROOM_SOURCES})
  target_include_directories(earshot_${name} PUBLIC ${PROJECT_SOURCE_DIR}/include)
  list(TRANSFORM ROOM_ROOMS PREPEND earshot_)
  target_link_libraries(earshot_${name} PUBLIC earshot_options ${ROOM_ROOMS} ${ROOM_LIBRARIES})
endfunction()
