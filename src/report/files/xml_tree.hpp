#pragma once

#include <cpl_minixml.h>

#include <memory>
#include <string>
#include <string_view>

/// XML built as a tree and written by GDAL's small XML library, which escapes what needs it.

namespace earshot::report {

/// A node of a tree that belongs to an XmlDocument.
class XmlNode {
public:
    explicit XmlNode(CPLXMLNode* node) : node_(node) {}

    /// Adds an element without text and gives it.
    XmlNode add(const char* name) const;
    /// Adds an element that holds a text. Bytes that are no UTF-8 become question marks.
    XmlNode add(const char* name, std::string_view text) const;
    /// The same where readers take the text for HTML (descriptions in KML): it shows as it is.
    XmlNode add_html(const char* name, std::string_view text) const;
    /// Adds an attribute and gives this node again. Attributes come before elements.
    const XmlNode& with(const char* name, std::string_view value) const;

private:
    CPLXMLNode* node_;
};

class XmlDocument {
public:
    explicit XmlDocument(const char* root_name);

    [[nodiscard]] XmlNode root() const { return XmlNode(root_.get()); }
    /// With the declaration of XML 1.0 in UTF-8.
    [[nodiscard]] std::string text() const;

private:
    struct Destroy {
        void operator()(CPLXMLNode* node) const { CPLDestroyXMLNode(node); }
    };
    std::unique_ptr<CPLXMLNode, Destroy> root_;
};

} // namespace earshot::report
