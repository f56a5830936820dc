using System.Security.Cryptography;
using System.Text;
using System.Text.RegularExpressions;

namespace Traceability.Service.Edge;

/// <summary>What browsers are told with every answer: run only our own scripts, in no frame, guess no types, tell no other site where somebody was.</summary>
public static partial class Headers
{
    private const string Kiosk = "kiosk", Api = "api";

    public static void AddSecurityHeaders(this IServiceCollection services, IConfiguration configuration)
    {
        // OWASP ASVS 5.0, 3.4.1: a year at least, subdomains too; the host is the service's own.
        services.AddHsts(o => (o.MaxAge, o.IncludeSubDomains) = (TimeSpan.FromDays(365), true));
        services.AddSecurityHeaderPolicies()
            .SetDefaultPolicy(p => Common(p).AddContentSecurityPolicy(c => Own(c)))
            // Blazor compiles WebAssembly, and its import map stands in the page itself.
            .AddPolicy(Kiosk, p => Common(p).AddContentSecurityPolicy(c =>
            {
                Own(c, script: s =>
                {
                    s.WasmUnsafeEval();
                    foreach (var hash in InlineScripts(configuration["Kiosk:Root"])) s.WithHash256(hash);
                }, ownBase: true);
                c.AddWorkerSrc().Self();
                c.AddManifestSrc().Self();
            }))
            // The page that shows the API sets styles by script and has its pictures inside its files.
            .AddPolicy(Api, p => Common(p).AddContentSecurityPolicy(c => Own(c, style: s => s.UnsafeInline(), image: i => i.Data())))
            .SetPolicySelector(c => Path(c.HttpContext).StartsWithSegments("/kiosk", StringComparison.Ordinal) ? c.ConfiguredPolicies[Kiosk]
                : Path(c.HttpContext).StartsWithSegments("/api-docs", StringComparison.Ordinal) ? c.ConfiguredPolicies[Api] : c.SelectedPolicy);
    }

    // When headers are sent, what maps a branch has moved its part of the address into the base.
    private static PathString Path(HttpContext http) => http.Request.PathBase + http.Request.Path;

    private static HeaderPolicyCollection Common(HeaderPolicyCollection policy) => policy
        .AddContentTypeOptionsNoSniff().AddFrameOptionsDeny().AddReferrerPolicySameOrigin().RemoveServerHeader()
        .AddCrossOriginOpenerPolicy(p => p.SameOrigin()).AddCrossOriginResourcePolicy(p => p.SameOrigin())
        .AddPermissionsPolicy(p =>
        {
            p.AddCamera().None();
            p.AddMicrophone().None();
            p.AddGeolocation().None();
        });

    private static void Own(Microsoft.AspNetCore.Builder.CspBuilder csp,
        Action<NetEscapades.AspNetCore.SecurityHeaders.Headers.ContentSecurityPolicy.ScriptSourceDirectiveBuilder>? script = null,
        Action<NetEscapades.AspNetCore.SecurityHeaders.Headers.ContentSecurityPolicy.StyleSourceDirectiveBuilder>? style = null,
        Action<NetEscapades.AspNetCore.SecurityHeaders.Headers.ContentSecurityPolicy.ImageSourceDirectiveBuilder>? image = null,
        bool ownBase = false)
    {
        csp.AddDefaultSrc().None();
        var scripts = csp.AddScriptSrc().Self();
        script?.Invoke(scripts);
        var styles = csp.AddStyleSrc().Self();
        style?.Invoke(styles);
        var images = csp.AddImgSrc().Self();
        image?.Invoke(images);
        csp.AddConnectSrc().Self();
        csp.AddFontSrc().Self();
        csp.AddFormAction().Self();
        csp.AddFrameAncestors().None();
        if (ownBase) csp.AddBaseUri().Self();
        else csp.AddBaseUri().None();
    }

    private static IEnumerable<string> InlineScripts(string? root)
    {
        var page = root is null ? null : System.IO.Path.Combine(root, "index.html");
        return page is null || !File.Exists(page) ? []
            : Inline().Matches(File.ReadAllText(page)).Select(m => Convert.ToBase64String(SHA256.HashData(Encoding.UTF8.GetBytes(m.Groups[1].Value))));
    }

    [GeneratedRegex("<script(?![^>]*\\bsrc=)[^>]*>(.*?)</script>", RegexOptions.Singleline)]
    private static partial Regex Inline();
}
