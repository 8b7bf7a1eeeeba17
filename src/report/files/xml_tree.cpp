#include "report/files/xml_tree.hpp"

#include "geo/text.hpp"

#include <cpl_conv.h>
#include <cpl_string.h>

namespace earshot::report {
namespace {

/// Text that XML 1.0 can hold: UTF-8 without control characters.
std::string xml_text(std::string_view text) {
    std::string plain(text);
    if (CPLIsUTF8(plain.c_str(), static_cast<int>(plain.size())) == 0) {
        char* forced = CPLForceToASCII(plain.c_str(), static_cast<int>(plain.size()), '?');
        plain = forced;
        CPLFree(forced);
    }
    return geo::plain_text(plain);
}

} // namespace

XmlNode XmlNode::add(const char* name) const {
    return XmlNode(CPLCreateXMLNode(node_, CXT_Element, name));
}

XmlNode XmlNode::add(const char* name, std::string_view text) const {
    return XmlNode(CPLCreateXMLElementAndValue(node_, name, xml_text(text).c_str()));
}

XmlNode XmlNode::add_html(const char* name, std::string_view text) const {
    std::string html;
    for (const char c : text) {
        html += c == '<' ? "&lt;" : c == '>' ? "&gt;" : c == '&' ? "&amp;" : std::string(1, c);
    }
    return add(name, html);
}

const XmlNode& XmlNode::with(const char* name, std::string_view value) const {
    CPLAddXMLAttributeAndValue(node_, name, xml_text(value).c_str());
    return *this;
}

XmlDocument::XmlDocument(const char* root_name)
    : root_(CPLCreateXMLNode(nullptr, CXT_Element, root_name)) {}

std::string XmlDocument::text() const {
    char* body = CPLSerializeXMLTree(root_.get());
    std::string text = std::string("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n") + body;
    CPLFree(body);
    return text;
}

} // namespace earshot::report
