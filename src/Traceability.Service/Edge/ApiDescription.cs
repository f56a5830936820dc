using Microsoft.AspNetCore.Authentication.Cookies;
using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.OpenApi;
using Microsoft.OpenApi;
using Traceability.Service.People;

namespace Traceability.Service.Edge;

/// <summary>What the description of the API (/openapi/v1.json) says of who may call which address, and with what proof.</summary>
public static class ApiDescription
{
    private const string DeviceId = "deviceId", DeviceKey = "deviceKey", SignOn = "signOn", Session = "session";

    public static void Configure(OpenApiOptions options)
    {
        options.AddDocumentTransformer((document, context, _) =>
        {
            document.Info.Title = "Plant traceability";
            document.Info.Description = "Facts come in as CloudEvents; decisions, units, packets and the sealed log are read and taken here. docs/integrate.md begins with the first fact.";
            var schemes = (document.Components ??= new()).SecuritySchemes ??= new Dictionary<string, IOpenApiSecurityScheme>();
            var cookie = context.ApplicationServices.GetRequiredService<Microsoft.Extensions.Options.IOptionsMonitor<CookieAuthenticationOptions>>().Get(CookieAuthenticationDefaults.AuthenticationScheme).Cookie.Name!;
            schemes[DeviceId] = new OpenApiSecurityScheme { Type = SecuritySchemeType.ApiKey, In = ParameterLocation.Header, Name = "X-Device-Id", Description = "The id under which the station or kiosk is known." };
            schemes[DeviceKey] = new OpenApiSecurityScheme { Type = SecuritySchemeType.ApiKey, In = ParameterLocation.Header, Name = "X-Device-Key", Description = "The station's key. An enrolled kiosk sends X-Device-Time and X-Device-Signature instead." };
            schemes[SignOn] = new OpenApiSecurityScheme { Type = SecuritySchemeType.ApiKey, In = ParameterLocation.Header, Name = SignOnTokens.Header, Description = "Proves a person's acts at this device, from POST /v1/kiosk/sign-on. Readings need none." };
            schemes[Session] = new OpenApiSecurityScheme { Type = SecuritySchemeType.ApiKey, In = ParameterLocation.Cookie, Name = cookie, Description = "The session of a person, from POST /v1/sign-in." };
            return Task.CompletedTask;
        });
        options.AddOperationTransformer(async (operation, context, cancel) =>
        {
            var metadata = context.Description.ActionDescriptor.EndpointMetadata;
            if (metadata.OfType<IAllowAnonymous>().Any()) return;
            var policies = context.ApplicationServices.GetRequiredService<IAuthorizationPolicyProvider>();
            if (await AuthorizationPolicy.CombineAsync(policies, metadata.OfType<IAuthorizeData>()) is not { } policy) return;
            operation.Security = [];
            if (policy.AuthenticationSchemes.Contains(Access.DeviceScheme)) operation.Security.Add(Of(context.Document, DeviceId, DeviceKey));
            if (policy.AuthenticationSchemes.Contains(Access.DeviceScheme) && context.Description.RelativePath == Intake.IntakeEndpoints.Path[1..]) operation.Security.Add(Of(context.Document, DeviceId, DeviceKey, SignOn));
            if (policy.AuthenticationSchemes.Contains(CookieAuthenticationDefaults.AuthenticationScheme)) operation.Security.Add(Of(context.Document, Session));
        });
    }

    private static OpenApiSecurityRequirement Of(OpenApiDocument? document, params string[] schemes)
    {
        var requirement = new OpenApiSecurityRequirement();
        foreach (var scheme in schemes) requirement[new OpenApiSecuritySchemeReference(scheme, document)] = [];
        return requirement;
    }
}
