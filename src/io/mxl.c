/* Compressed scores: a zip archive whose META-INF/container.xml names the score in it. */
#include "musicxml_reader.h"
#include "undersong/musicxml.h"

#include <libxml/parser.h>
#include <libxml/tree.h>
#include <stdlib.h>
#include <string.h>
#include <zip.h>

/* What one entry may unpack to: so many bytes, and beyond the first so many times what it is packed in.
   Scores pack to a tenth or a fiftieth of their size, and a score in memory is thirty times as large as its
   text. */
enum {
    ENTRY_BYTES_MAX = 16 << 20,
    CONTAINER_BYTES_MAX = 64 << 10,
    FREE_BYTES = 256 << 10,
    PACKED_TIMES = 200
};

static enum us_status bad(const char *name, const char *what, struct us_error *error)
{
    return us_error_set(error, US_STATUS_BAD_INPUT, "%s: %s; export the score again", name, what);
}

static size_t less(zip_t *archive, const char *entry, size_t limit)
{
    zip_stat_t about;
    zip_uint64_t packed = 0;
    if (!zip_stat(archive, entry, 0, &about) && about.valid & ZIP_STAT_COMP_SIZE) packed = about.comp_size;
    return packed < (limit - FREE_BYTES) / PACKED_TIMES ? FREE_BYTES + (size_t)packed * PACKED_TIMES : limit;
}

/* Unpacks one entry, at most `limit` bytes of it, into fresh memory. */
static enum us_status unpack(zip_t *archive, const char *entry, size_t limit, const char *name, char **text,
                             size_t *size, struct us_error *error)
{
    zip_file_t *file = zip_fopen(archive, entry, 0);
    if (!file) return bad(name, "the score inside it is missing", error);
    size_t room = 0, used = 0;
    zip_int64_t got = 1;
    *text = NULL;
    while (got > 0 && used <= limit) {
        if (used + 4096 > room) {
            room = room ? room * 2 : 65536;
            char *grown = realloc(*text, room);
            if (!grown) {
                zip_fclose(file);
                free(*text);
                return us_error_set(error, US_STATUS_NO_MEMORY, "%s: no memory left for the score", name);
            }
            *text = grown;
        }
        got = zip_fread(file, *text + used, 4096);
        if (got > 0) used += (size_t)got;
    }
    zip_fclose(file);
    *size = used;
    if (got == 0) return US_STATUS_OK;
    free(*text);
    *text = NULL;
    return bad(name, got < 0 ? "the score inside it is damaged" : "the score inside it is too large", error);
}

/* The full-path of the first rootfile; "" where it names none. */
static void root_file(const char *text, size_t size, char *path, size_t room)
{
    xmlDoc *doc = xmlReadMemory(text, (int)size, "container", NULL,
                                XML_PARSE_NONET | XML_PARSE_NOERROR | XML_PARSE_NOWARNING);
    const xmlNode *root = doc ? xmlDocGetRootElement(doc) : NULL;
    mx_attribute(mx_child(mx_child(root, "rootfiles"), "rootfile"), "full-path", path, room);
    xmlFreeDoc(doc);
}

static enum us_status read_archive(zip_t *archive, const char *name, struct us_tune_file *out,
                                   struct us_error *error)
{
    char *text;
    size_t size;
    enum us_status status =
        unpack(archive, "META-INF/container.xml", CONTAINER_BYTES_MAX, name, &text, &size, error);
    if (status) return status;
    char path[1024];
    root_file(text, size, path, sizeof path);
    free(text);
    if (!*path) return bad(name, "its container names no score", error);
    status = unpack(archive, path, less(archive, path, ENTRY_BYTES_MAX), name, &text, &size, error);
    if (status) return status;
    status = us_musicxml_read(text, size, name, out, error);
    free(text);
    return status;
}

enum us_status us_mxl_read(const void *bytes, size_t size, const char *name, struct us_tune_file *out,
                           struct us_error *error)
{
    memset(out, 0, sizeof *out);
    zip_source_t *source = zip_source_buffer_create(bytes, size, 0, NULL);
    zip_t *archive = source ? zip_open_from_source(source, ZIP_RDONLY, NULL) : NULL;
    if (!archive) {
        zip_source_free(source);
        return bad(name, "not a compressed score", error);
    }
    enum us_status status = read_archive(archive, name, out, error);
    zip_discard(archive);
    return status;
}

static const char CONTAINER[] = "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<container><rootfiles>"
                                "<rootfile full-path=\"score.musicxml\" "
                                "media-type=\"application/vnd.recordare.musicxml+xml\"/>"
                                "</rootfiles></container>\n";

static bool add_entry(zip_t *archive, const char *name, const void *bytes, size_t size)
{
    zip_source_t *source = zip_source_buffer(archive, bytes, size, 0);
    zip_int64_t index = source ? zip_file_add(archive, name, source, ZIP_FL_ENC_UTF_8) : -1;
    if (index < 0) {
        zip_source_free(source);
        return false;
    }
    /* A fixed date: the same tune gives the same bytes. */
    return zip_file_set_dostime(archive, (zip_uint64_t)index, 0, 33, 0) == 0;
}

/* Packs into `packed`, which the archive closes over. */
static bool pack(zip_source_t *packed, const char *score, size_t size)
{
    zip_t *archive = zip_open_from_source(packed, ZIP_TRUNCATE, NULL);
    if (!archive) return false;
    zip_source_keep(packed);
    if (add_entry(archive, "META-INF/container.xml", CONTAINER, sizeof CONTAINER - 1) &&
        add_entry(archive, "score.musicxml", score, size) && zip_close(archive) == 0)
        return true;
    zip_discard(archive);
    return false;
}

static bool take_bytes(zip_source_t *packed, void **bytes, size_t *size)
{
    zip_stat_t about;
    if (zip_source_stat(packed, &about) || zip_source_open(packed)) return false;
    *size = (size_t)about.size;
    *bytes = malloc(*size);
    bool done = *bytes && zip_source_read(packed, *bytes, *size) == (zip_int64_t)*size;
    zip_source_close(packed);
    if (!done) free(*bytes);
    return done;
}

enum us_status us_mxl_pack(const char *score, size_t score_size, void **bytes, size_t *size,
                           struct us_error *error)
{
    zip_source_t *packed = zip_source_buffer_create(NULL, 0, 0, NULL);
    bool done = packed && pack(packed, score, score_size) && take_bytes(packed, bytes, size);
    zip_source_free(packed);
    return done ? US_STATUS_OK : us_error_set(error, US_STATUS_NO_MEMORY, "no memory left to pack the tune");
}

enum us_status us_mxl_bytes(const struct us_tune *tune, void **bytes, size_t *size, struct us_error *error)
{
    char *score = NULL;
    size_t score_size;
    FILE *to = open_memstream(&score, &score_size);
    if (!to) return us_error_set(error, US_STATUS_NO_MEMORY, "no memory left to write the tune");
    enum us_status status = us_musicxml_write(tune, to, error);
    if (fclose(to) && !status)
        status = us_error_set(error, US_STATUS_NO_MEMORY, "no memory left to write the tune");
    if (!status) status = us_mxl_pack(score, score_size, bytes, size, error);
    free(score);
    return status;
}
