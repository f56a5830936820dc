using System.Reflection;
using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.Filters;

namespace Traceability.Service.Pages;

/// <summary>The action of one handler of a page, where it is another than the page's own.</summary>
[AttributeUsage(AttributeTargets.Method)]
public sealed class MayAttribute(string action) : Attribute
{
    public string Action { get; } = action;
}

/// <summary>Holds a page's handlers to their own action: a page that all may read can have a form that some may send.</summary>
public sealed class HandlerDoors(IAuthorizationService authorization) : IAsyncPageFilter
{
    public Task OnPageHandlerSelectionAsync(PageHandlerSelectedContext context) => Task.CompletedTask;

    public async Task OnPageHandlerExecutionAsync(PageHandlerExecutingContext context, PageHandlerExecutionDelegate next)
    {
        if (context.HandlerMethod?.MethodInfo.GetCustomAttribute<MayAttribute>() is { } may && !(await authorization.AuthorizeAsync(context.HttpContext.User, may.Action)).Succeeded)
            context.Result = new ForbidResult();
        else
            await next();
    }
}
